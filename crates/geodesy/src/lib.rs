//! Positions, geodesics, courses and the polar stereographic grid on WGS84.
