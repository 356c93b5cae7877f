//! Coast, depth, ice and zones on one polar grid, through time.
