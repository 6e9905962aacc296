"""Teeth: handbook anatomy, roots, crowns, and their support by the periodontal ligament."""
