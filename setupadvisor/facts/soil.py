"""Soil texture: from sand, silt and clay, or from a ribbon squeezed between the fingers."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.entries.words import RIBBON_FEELS, TEXTURES
from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.categories import indices, look_up
from setupadvisor.facts.valid_range import FloatArray, possible

TEXTURE_GROUPS = ("coarse", "moderately_coarse", "medium", "fine")

# Sand, silt and clay (%) that Saxton & Rawls 2006, Table 3, print for each class
# (SSSAJ 70:1569); each lies inside its class. In the order of TEXTURES.
_REPRESENTATIVE_PCT = np.array(
    [
        [88.0, 7.0, 5.0],
        [80.0, 15.0, 5.0],
        [65.0, 25.0, 10.0],
        [40.0, 40.0, 20.0],
        [20.0, 65.0, 15.0],
        [10.0, 85.0, 5.0],
        [60.0, 15.0, 25.0],
        [30.0, 35.0, 35.0],
        [10.0, 55.0, 35.0],
        [50.0, 10.0, 40.0],
        [10.0, 45.0, 45.0],
        [25.0, 25.0, 50.0],
    ]
)

# USDA NRCS, Estimating Soil Moisture by Feel and Appearance: coarse (sand, loamy sand),
# moderately coarse (sandy loam), medium (sandy clay loam, loam, silt loam), fine (clay loam,
# silty clay loam, clay). Silt goes with silt loam, sandy and silty clay with clay: our reading.
_GROUP = np.array([0.0, 0.0, 1.0, 2.0, 2.0, 2.0, 2.0, 3.0, 3.0, 3.0, 3.0, 3.0])

# Class of a ribbon: rows are shorter than 1 inch, 1 to 2 inches, longer than 2 inches;
# columns are RIBBON_FEELS (Thien 1979).
_RIBBON = np.array(
    [
        [
            TEXTURES.index("sandy_loam"),
            TEXTURES.index("silt_loam"),
            TEXTURES.index("loam"),
        ],
        [
            TEXTURES.index("sandy_clay_loam"),
            TEXTURES.index("silty_clay_loam"),
            TEXTURES.index("clay_loam"),
        ],
        [
            TEXTURES.index("sandy_clay"),
            TEXTURES.index("silty_clay"),
            TEXTURES.index("clay"),
        ],
    ],
    dtype=np.float64,
)
_INCH_MM = 25.4


def _share(part_pct: ArrayLike, quantity: str) -> FloatArray:
    # A part worked out as the rest to 100 can fall below 0 by rounding.
    mend = "a share of the soil is 0 to 100 %"
    part = possible(part_pct, quantity, mend, at_least=-1e-6, at_most=100.0 + 1e-6)
    return np.maximum(part, 0.0)


def texture_class(sand_pct: ArrayLike, silt_pct: ArrayLike, clay_pct: ArrayLike) -> FloatArray:
    """Class of the USDA texture triangle from a laboratory's sand, silt and clay.

    Parameters
    ----------
    sand_pct : array_like
        Sand, 0.05 to 2 mm [% of mass].
    silt_pct : array_like
        Silt, 0.002 to 0.05 mm [% of mass].
    clay_pct : array_like
        Clay, below 0.002 mm [% of mass].

    Returns
    -------
    numpy.ndarray
        Code into `setupadvisor.entries.words.TEXTURES`; NaN where any part is missing.

    Raises
    ------
    ImpossibleValue
        If a part is below 0 %, or the three do not sum to 100 % within 1 %.

    Notes
    -----
    On a boundary the manual's written inequalities decide, not the drawing of the triangle.
    Parts that sum to 99 to 101 (rounding) are scaled to 100 first.

    References
    ----------
    USDA Soil Survey Manual (Handbook 18), chapter 3, Soil texture. The written inequalities
    are from memory.

    Examples
    --------
    >>> TEXTURES[int(texture_class(40, 42, 18))]
    'loam'
    """
    sand = _share(sand_pct, "sand_pct")
    silt = _share(silt_pct, "silt_pct")
    clay = _share(clay_pct, "clay_pct")
    total = sand + silt + clay
    wrong = np.abs(total - 100.0) > 1.0
    if wrong.any():
        raise ImpossibleValue(
            "sand_pct + silt_pct + clay_pct",
            f"a sum of {float(total[wrong].flat[0]):g} %",
            "sand, silt and clay sum to 100 %",
        )
    scale = 100.0 / total
    sand, silt, clay = sand * scale, silt * scale, clay * scale
    classes = [
        silt + 1.5 * clay < 15,
        (silt + 1.5 * clay >= 15) & (silt + 2 * clay < 30),
        (silt + 2 * clay >= 30)
        & (((clay >= 7) & (clay < 20) & (sand > 52)) | ((clay < 7) & (silt < 50))),
        (clay >= 7) & (clay < 27) & (silt >= 28) & (silt < 50) & (sand <= 52),
        (silt >= 50) & (((clay >= 12) & (clay < 27)) | ((clay < 12) & (silt < 80))),
        (silt >= 80) & (clay < 12),
        (clay >= 20) & (clay < 35) & (silt < 28) & (sand > 45),
        (clay >= 27) & (clay < 40) & (sand > 20) & (sand <= 45),
        (clay >= 27) & (clay < 40) & (sand <= 20),
        (clay >= 35) & (sand > 45),
        (clay >= 40) & (silt >= 40),
        (clay >= 40) & (silt < 40) & (sand <= 45),
    ]
    return np.select(classes, [float(i) for i in range(len(classes))], default=np.nan)


def texture_class_from_ribbon(
    ribbon_length_mm: ArrayLike, feel: ArrayLike, forms_ball: ArrayLike = 1.0
) -> FloatArray:
    """Texture class from a moist handful: does it ball, how long a ribbon, how does it feel.

    Parameters
    ----------
    ribbon_length_mm : array_like
        Length at which the ribbon breaks [mm]; 0 when the soil makes no ribbon.
    feel : array_like
        Code into `setupadvisor.entries.words.RIBBON_FEELS` of a very wet pinch rubbed in the
        palm; not needed where the soil makes no ball or no ribbon.
    forms_ball : array_like, optional
        1 where a squeezed handful stays a ball, 0 where it falls apart; 1 unless given.

    Returns
    -------
    numpy.ndarray
        Code into `setupadvisor.entries.words.TEXTURES`; NaN where the answers do not decide.

    Raises
    ------
    ImpossibleValue
        If a length is below 0 mm, `forms_ball` is not within 0 to 1 or a feel code is unknown.

    Notes
    -----
    The chart has no way to silt: a silt is answered as silt loam. A practised hand is right
    within one neighbouring class (common practice, no source).

    References
    ----------
    Thien 1979, A flow diagram for teaching texture-by-feel analysis, Journal of Agronomic
    Education 8:54, as used by USDA NRCS. Lengths and classes agree with an extension page that
    quotes it; the branches are from memory.

    Examples
    --------
    >>> TEXTURES[int(texture_class_from_ribbon(35, RIBBON_FEELS.index("neither")))]
    'clay_loam'
    """
    length = possible(
        ribbon_length_mm, "ribbon_length_mm", "a length is 0 mm or more", at_least=0.0
    )
    ball = possible(
        forms_ball, "forms_ball", "1 when it stays a ball, 0 when not", at_least=0.0, at_most=1.0
    )
    column, feel_missing = indices(feel, len(RIBBON_FEELS), "feel")
    row = (length >= _INCH_MM).astype(np.intp) + (length > 2 * _INCH_MM)
    ribbon = np.where(feel_missing, np.nan, _RIBBON[row, column])
    ribbon = np.where(length == 0, float(TEXTURES.index("loamy_sand")), ribbon)
    decided = np.where(ball < 0.5, float(TEXTURES.index("sand")), ribbon)
    ribbon_missing = np.isnan(length) & ~(ball < 0.5)
    return np.where(ribbon_missing | np.isnan(ball), np.nan, decided)


def representative_sand_pct(texture: ArrayLike) -> FloatArray:
    """Sand of a typical soil of a texture class.

    Parameters
    ----------
    texture : array_like
        Code into `setupadvisor.entries.words.TEXTURES`.

    Returns
    -------
    numpy.ndarray
        Sand [% of mass]; NaN where missing.

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    References
    ----------
    Saxton & Rawls 2006, Soil Science Society of America Journal 70:1569, Table 3.

    Examples
    --------
    >>> float(representative_sand_pct(TEXTURES.index("loam")))
    40.0
    """
    return look_up(_REPRESENTATIVE_PCT[:, 0], texture, "texture")


def representative_silt_pct(texture: ArrayLike) -> FloatArray:
    """Silt of a typical soil of a texture class.

    Parameters
    ----------
    texture : array_like
        Code into `setupadvisor.entries.words.TEXTURES`.

    Returns
    -------
    numpy.ndarray
        Silt [% of mass]; NaN where missing.

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    References
    ----------
    Saxton & Rawls 2006, Soil Science Society of America Journal 70:1569, Table 3 (the rest
    to 100 % of its sand and clay).

    Examples
    --------
    >>> float(representative_silt_pct(TEXTURES.index("silt_loam")))
    65.0
    """
    return look_up(_REPRESENTATIVE_PCT[:, 1], texture, "texture")


def representative_clay_pct(texture: ArrayLike) -> FloatArray:
    """Clay of a typical soil of a texture class.

    Parameters
    ----------
    texture : array_like
        Code into `setupadvisor.entries.words.TEXTURES`.

    Returns
    -------
    numpy.ndarray
        Clay [% of mass]; NaN where missing.

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    References
    ----------
    Saxton & Rawls 2006, Soil Science Society of America Journal 70:1569, Table 3.

    Examples
    --------
    >>> float(representative_clay_pct(TEXTURES.index("clay")))
    50.0
    """
    return look_up(_REPRESENTATIVE_PCT[:, 2], texture, "texture")


def texture_group(texture: ArrayLike) -> FloatArray:
    """Group of a texture class that the feel and appearance method distinguishes.

    Parameters
    ----------
    texture : array_like
        Code into `setupadvisor.entries.words.TEXTURES`.

    Returns
    -------
    numpy.ndarray
        Code into `TEXTURE_GROUPS`; NaN where missing.

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    Notes
    -----
    The method names nine classes; silt is put with silt loam, sandy clay and silty clay with
    clay (common practice, no source).

    References
    ----------
    USDA NRCS, Estimating Soil Moisture by Feel and Appearance (Program Aid 1619), from memory.

    Examples
    --------
    >>> TEXTURE_GROUPS[int(texture_group(TEXTURES.index("sandy_loam")))]
    'moderately_coarse'
    """
    return look_up(_GROUP, texture, "texture")
