"""Equilibria in time: the socket of every tooth follows it, and the wires are solved again at every step."""
