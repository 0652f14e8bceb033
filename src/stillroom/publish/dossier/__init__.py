"""The dossier of one fan: all that the laboratory has of it, for whoever disputes a number; other fans stay unnamed."""

from stillroom.publish.dossier.gathering import material_of
from stillroom.publish.dossier.material import Material
from stillroom.publish.dossier.writing import Dossier, write_dossier

__all__ = ["Dossier", "Material", "material_of", "write_dossier"]
