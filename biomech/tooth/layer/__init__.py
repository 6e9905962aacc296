"""The ligament as a thin solid layer on its middle surface: right up to a nearly incompressible ligament.

A layer of thickness t is bonded to the root, which moves by u, and to the bone, which rests. Through so thin a layer
the pressure p in excess of what the layer bears when it may flow freely is constant, and the tangential displacement
is linear (it follows the root) plus a parabola driven by the slope of p, as in a film of lubricant. The change of
volume of a column then reads, with n out of the root and u_n = u . n,

    (t / (M - Ee)) p - div( t^3 / (12 G) grad p ) = u_n,        p = 0 on the rim at the crest,

and the traction that has to be applied to the root is (p + (Ee / t) u_n) n + (G / t) u_t. Moduli: M = E (1 - nu) /
((1 + nu)(1 - 2 nu)) of the layer held sideways, Ee = E / (1 - nu^2) of one free to flow in one direction, G in shear.
No factor is fitted. Where the pressure varies slowly the second term vanishes and springs M/t and G/t are left; with M
infinite it is the film equation of an incompressible membrane (Synge 1933, doi 10.1098/rsta.1933.0012, abstract only).
What the root drags along sideways, div(t u_t / 2), and the difference between root and middle surface cancel for any
rigid motion and any thickness (to first order in t over the radius), so that u . n is taken on the middle surface. The
operator is symmetric, and so is the 6x6 stiffness: entry ij is the integral of traction of motion j times displacement
of motion i.

`mesh`: curved surface meshes; `film`: the equation; `rings`, `furcation`: meshes of handbook roots; `supports`: the
support of a tooth.
"""
