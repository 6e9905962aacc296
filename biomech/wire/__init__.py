"""Wires: bends, stress-free shape, and the rod as links."""
