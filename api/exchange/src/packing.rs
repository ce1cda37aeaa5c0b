//! Integer packing.
