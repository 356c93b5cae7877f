//! The grid search: arrival fields, fuel-limited routes, distinct alternatives, bounds.
