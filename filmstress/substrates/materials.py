"""Substrate materials: their names, crystal systems and the cuts that have a name of their own."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.errors import SubstrateError


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A substrate material.

    Attributes
    ----------
    key : str
        How it is written: "Si".
    title : str
        In words: "silicon".
    system : str
        "cubic", "hexagonal", "trigonal" or "isotropic".
    default_dataset : str
        Data set of its elastic constants that is used where none is named; "" if there is one only.
    aliases : tuple of str
        Other names.
    cuts : tuple of str
        Common ways to write its cut, the most common first; empty where it has none.
    """

    key: str
    title: str
    system: str
    default_dataset: str = ""
    aliases: tuple[str, ...] = ()
    cuts: tuple[str, ...] = ()

    @property
    def example(self) -> str:
        """How a wafer of it is written: "Si(001)"."""
        return f"{self.key}({self.cuts[0]})" if self.cuts else self.key


def _cubic(key: str, title: str, dataset: str, *aliases: str) -> Material:
    return Material(
        key=key,
        title=title,
        system="cubic",
        default_dataset=dataset,
        aliases=aliases,
        cuts=("001", "111", "110"),
    )


def _hexagonal(key: str, title: str, dataset: str, *aliases: str) -> Material:
    return Material(
        key=key,
        title=title,
        system="hexagonal",
        default_dataset=dataset,
        aliases=aliases,
        cuts=("0001", "11-20", "10-10"),
    )


def _trigonal(key: str, title: str, dataset: str, cuts: tuple[str, ...], *also: str) -> Material:
    return Material(
        key=key,
        title=title,
        system="trigonal",
        default_dataset=dataset,
        aliases=also,
        cuts=cuts,
    )


def _isotropic(key: str, title: str, *aliases: str) -> Material:
    return Material(key=key, title=title, system="isotropic", aliases=aliases)


MATERIALS: tuple[Material, ...] = (
    _cubic("Si", "silicon", "Mason 1958"),
    _cubic("Ge", "germanium", "McSkimin 1963"),
    _cubic("GaAs", "gallium arsenide", "McSkimin 1967"),
    _cubic("InP", "indium phosphide", "Nichols 1980"),
    _cubic("GaP", "gallium phosphide", "Boyle 1975"),
    _cubic("3C-SiC", "cubic silicon carbide", "Djemia 2004", "beta-SiC"),
    _cubic("MgO", "magnesium oxide", "Sumino 1983", "magnesia"),
    _cubic("SrTiO3", "strontium titanate", "Wachtman 1963", "STO"),
    _cubic("diamond", "diamond, single crystal", "McSkimin 1972"),
    _hexagonal("4H-SiC", "silicon carbide 4H", "Kamitani 1997"),
    _hexagonal("6H-SiC", "silicon carbide 6H", "Kamitani 1997"),
    _hexagonal("GaN", "gallium nitride", "Polian 1996"),
    _hexagonal("AlN", "aluminium nitride", "McNeil 1993", "aluminum nitride"),
    _trigonal("sapphire", "sapphire", "Goto 1989", ("c", "a", "m", "r"), "Al2O3", "corundum"),
    _trigonal(
        "quartz",
        "alpha-quartz, crystal",
        "Bechmann 1958",
        ("AT", "ST", "Z", "X"),
        "alpha-quartz",
        "crystal quartz",
        "crystalline quartz",
    ),
    _trigonal("LiNbO3", "lithium niobate", "Warner 1967", ("128Y", "Z", "X", "Y", "64Y"), "LN"),
    _trigonal("LiTaO3", "lithium tantalate", "Warner 1967", ("42Y", "36Y", "Z", "X", "Y"), "LT"),
    _isotropic("fused silica", "fused silica", "silica glass", "quartz glass", "fused quartz"),
    _isotropic("borosilicate glass", "borosilicate glass 3.3", "borosilicate"),
    _isotropic(
        "aluminoborosilicate glass",
        "alkali-free aluminoborosilicate glass",
        "aluminoborosilicate",
        "alkali-free glass",
    ),
    _isotropic("soda-lime glass", "soda-lime float glass", "soda-lime", "float glass"),
    _isotropic("alumina", "alumina, polycrystalline", "alumina ceramic"),
    _isotropic("stainless steel 304", "stainless steel 304", "stainless steel", "304"),
    _isotropic("copper", "copper, polycrystalline", "Cu"),
    _isotropic("polyimide", "polyimide film", "PI"),
    _isotropic("PET", "PET film", "polyethylene terephthalate"),
)

# Names that stand for materials of different stiffness.
_AMBIGUOUS = {
    "SiC": ("4H-SiC", "6H-SiC", "3C-SiC"),
    "silicon carbide": ("4H-SiC", "6H-SiC", "3C-SiC"),
    "SiO2": ("quartz", "fused silica"),
    "glass": ("borosilicate glass", "aluminoborosilicate glass", "soda-lime glass", "fused silica"),
}


def _normal_form(name: str) -> str:
    return "".join(name.split()).replace("-", "").replace("_", "").casefold()


_BY_NAME = {
    _normal_form(name): material
    for material in MATERIALS
    for name in (material.key, material.title, *material.aliases)
}
_BY_AMBIGUOUS = {_normal_form(name): keys for name, keys in _AMBIGUOUS.items()}


def find_material(name: str) -> Material:
    """Material of a name, whatever its case, spaces and hyphens.

    Raises
    ------
    SubstrateError
        If no material has this name (the nearest is named) or several have.
    """
    form = _normal_form(name)
    if form in _BY_NAME:
        return _BY_NAME[form]
    if form in _BY_AMBIGUOUS:
        raise SubstrateError(
            f"'{name}' stands for materials of different stiffness",
            hint=f"say which: {', '.join(_BY_AMBIGUOUS[form])}",
        )
    from difflib import get_close_matches

    near = get_close_matches(form, _BY_NAME, n=1)
    raise SubstrateError(
        f"'{name}' is not in the substrate table",
        hint=f"did you mean '{_BY_NAME[near[0]].key}'?"
        if near
        else "`filmstress substrates` lists the materials; or state youngs_modulus, poisson_ratio "
        "and density in place of the material",
    )
