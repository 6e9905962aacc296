"""Frames joined by links: poses, link kinematics and laws, networks, equilibrium. Knows nothing of teeth."""
