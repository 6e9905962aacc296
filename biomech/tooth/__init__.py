"""Teeth: handbook anatomy, roots, crowns, and their support by the periodontal ligament."""

from biomech.tooth.model import Tooth, make_tooth

__all__ = ["Tooth", "make_tooth"]
