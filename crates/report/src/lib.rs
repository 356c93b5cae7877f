//! Writes a ranking as tables, JSON, GeoJSON, GPX, SVG and one-file HTML.
