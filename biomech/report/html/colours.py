"""Colours that stay apart for people with colour-vision deficiency (Okabe and Ito's set; cividis for the scale)."""

from __future__ import annotations

CROWN, ROOT, START, CHOSEN = "#efe6cf", "#b08d5f", "#5b7d9b", "#4a3a00"
FORCE, PAST = "#0072b2", "#d55e00"
SCALE = ("#00224e", "#35456c", "#666970", "#948e77", "#c8b866", "#fee838")
"""Stress from nothing to the elastic limit."""
