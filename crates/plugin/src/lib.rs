//! The extension points of dipward: traits, registry, and diagnostics with places.
