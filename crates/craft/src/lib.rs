//! Ships and over-ice vehicles: what ice they bear, how fast, at what fuel.
