"""What is said of a fold: where it lies, or why an image stays whole, and what decides."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Fold:
    """A fold found in an image.

    Parameters
    ----------
    x_share : float
        Its place at half height, as a share of the image's width.
    kind : str
        ``"margins"`` (a clean strip), ``"shadow"`` (a clean strip with the fold's own
        shading), or ``"meeting"`` (two pictures that meet at a line).
    """

    x_share: float
    kind: str


@dataclass(frozen=True)
class FoldReport:
    """The fold, or why none is cut at.

    Parameters
    ----------
    fold : Fold or None
        Where to cut; None where the image is to stay whole.
    reason : str
        For a person.
    measures : dict
        Figures behind the decision.
    may_meet : bool
        Whether two pictures might still meet at a line.
    """

    fold: Fold | None
    reason: str = ""
    measures: dict[str, float] = field(default_factory=dict)
    may_meet: bool = False


@dataclass(frozen=True)
class FoldSettings:
    """Tolerances of the search; shares are of the image's width unless said otherwise.

    Parameters
    ----------
    loud_share : float
        Share of a quiet column's rows that may differ from its own shading.
    least_strip : float
        Narrowest strip with a shadow.
    least_margins : float
        Narrowest strip without one.
    gutter_ratio, margin_ratio : float
        A strip without a shadow must be this many times as wide as the page's tier gutters,
        and as its outer margins.
    valley : float
        Least depth of a fold's shading, in gray levels.
    end_valley, deep_valley : float
        The same at the end of a strip, and of one that is no wider than a gutter.
    step_share : float
        Least share of rows with a sharp step where two pictures meet.
    paper_difference : float
        Greatest difference of a clean strip from the paper at the outer margins, in gray
        levels.
    ends_if_light, ends_if_not : float
        Least share of rows in which something differs beyond each side of a clean strip
        that is as light as paper, or is not.
    """

    loud_share: float = 0.02
    least_strip: float = 0.014
    least_margins: float = 0.018
    gutter_ratio: float = 1.7
    margin_ratio: float = 0.8
    valley: float = 7.0
    end_valley: float = 12.0
    deep_valley: float = 30.0
    step_share: float = 0.72
    paper_difference: float = 28.0
    ends_if_light: float = 0.25
    ends_if_not: float = 0.55
