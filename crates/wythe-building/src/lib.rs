//! Rooms, boundaries, junctions, sources and requirements of one building.
