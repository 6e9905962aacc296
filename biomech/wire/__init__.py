"""Wires: their stress-free shape with all bends, and the rod they make."""
