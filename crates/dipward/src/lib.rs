//! Plans and ranks approaches to a dip pole: scenario in, ranking out.
