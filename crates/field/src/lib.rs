//! The Earth's main field, its dip poles, and how they wander.
