"""One look for all figures: the type, its sizes, marks, inks, and files without a date.

A figure function stands in ``<what>_figure.py`` beside its method. It takes plain
values and a language, never a result, and is drawn `in_look`::

    @in_look
    def draw_things(things: pd.DataFrame, *, language: str, axes: Axes | None = None) -> Figure:
        axes = field(axes, 6.4, 3.0)
        ...
        return whole(axes)

Theme, palettes and the statistical figures are seaborn's; it is loaded when the
first figure is drawn, never before.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Literal, ParamSpec

from .options import one_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

P = ParamSpec("P")

TEXT, SMALL, TITLE = 8.0, 7.0, 9.5
"""Sizes of type in points: what is read, the least there is, and headings."""
PAPER_WIDTH = 7.2
"""Inches that a figure is wide at most: on A4 it is printed as it is, its type no smaller."""
PHONE_WIDTH = 3.75
"""Inches of a telephone's screen of 390 px between its margins."""

INK, GREY, PALE = "0.1", "0.4", "0.85"
"""Black as printed, what stands back, and lines to guide the eye."""

MARKS = ("o", "s", "^", "D", "v", "P", "X", "*", "<", ">")
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1.5, 2)), (0, (1, 1)))
"""Shapes and dashes carry every difference, so that a black-and-white print has it too."""

KINDS = ("pdf", "png", "svg")
PRESSED = 3
"""How hard a PNG is pressed, of 9: half the time of 6, three parts in a hundred larger."""
_NO_DATE: dict[str, dict[str, None]] = {
    "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
    "png": {"Software": None},
    "svg": {"Date": None, "Creator": None},
}
_NO_LAYOUT: Any = {"figure.autolayout": False, "figure.constrained_layout.use": False}
_INKS = ("#0173b2", "#d55e00", "#029e73", "#b3609f", "#96632f", "#757575")
"""Seaborn's inks for the colour-blind that stand out on white; of purple, brown and grey a darker
tone, so that each stands off from its ground by 3 : 1 and more, on a dark screen too."""

_NOT_FIRST = frozenset("、。，．・：；？！）」』】ー")
_LETTERS = r"\s+|[「『（【]*(?:[\u2e80-\uffef]|[^\s\u2e80-\uffef]+)"
_KANA_AFTER = r"[\u3041-\u3096]*"
_WORDS = (
    rf"\s+|[「『（【]*(?:\d[\d.,]*[\u3400-\u9fff々]+{_KANA_AFTER}"
    rf"|(?:[\u3400-\u9fff々]+|[\u30a1-\u30faー]+){_KANA_AFTER}"
    rf"|[\u3041-\u3096]+)|{_LETTERS}"
)
"""A Japanese word with what is bound to it: characters of one kind and the kana after them."""

_OWN_FACES: list[str] = []
_GIVEN: ContextVar[Axes | None] = ContextVar("given", default=None)
_JAPANESE_FACES = (
    "BIZ UDPGothic",
    "Noto Sans CJK JP",
    "Noto Sans JP",
    "Hiragino Sans",
    "Yu Gothic",
    "IPAexGothic",
)


def use_face(*paths: Path) -> None:
    """Set all figures from now on in a face of one's own.

    Parameters
    ----------
    *paths : Path
        Font files of one family, for example regular and bold. Without a face of
        one's own the first Japanese face that the machine has is taken, or else
        matplotlib's, which has no Japanese letters.
    """
    from matplotlib.font_manager import fontManager

    own = {str(path) for path in paths}
    for path in own - {font.fname for font in fontManager.ttflist}:
        fontManager.addfont(path)
    names = {font.name for font in fontManager.ttflist if font.fname in own}
    # A machine may have a face of that name too, older or with fewer letters.
    fontManager.ttflist[:] = [
        font for font in fontManager.ttflist if font.name not in names or font.fname in own
    ]
    _OWN_FACES[:0] = sorted(names - set(_OWN_FACES))


def _faces() -> list[str]:
    from matplotlib.font_manager import fontManager

    there = set(fontManager.get_font_names())
    japanese = [name for name in _JAPANESE_FACES if name in there][:1]
    return list(dict.fromkeys([*_OWN_FACES, *japanese, "DejaVu Sans"]))


def look() -> Any:
    """Return the settings of matplotlib that make the look."""
    import seaborn as sns

    lines = {"axes.spines.top": False, "axes.spines.right": False, "axes.linewidth": 0.8}
    sizes = {
        "font.size": TEXT,
        "axes.labelsize": TEXT,
        "axes.titlesize": TITLE,
        "xtick.labelsize": TEXT,
        "ytick.labelsize": TEXT,
        "legend.fontsize": TEXT,
        "legend.title_fontsize": TEXT,
        "figure.titlesize": TITLE,
        "figure.labelsize": TEXT,
    }
    return {
        **sns.axes_style("ticks", lines),
        **sns.plotting_context("paper", rc=sizes),
        "font.family": _faces(),
        "axes.titlelocation": "left",
        "legend.frameon": False,
    }


def in_look(draw: Callable[P, Figure]) -> Callable[P, Figure]:
    """Let a function draw in the look, and leave the settings of others as they were."""

    @wraps(draw)
    def drawn(*args: P.args, **kwargs: P.kwargs) -> Figure:
        import matplotlib as mpl

        if given() is not None:
            return draw(*args, **kwargs)
        with mpl.rc_context(look()):
            figure = draw(*args, **kwargs)
            for axes in figure.axes:  # ticks are born when first asked for, and take the size then
                axes.get_xticklabels()
                axes.get_yticklabels()
        return figure

    return drawn


@contextmanager
def drawing_on(axes: Axes) -> Iterator[None]:
    """Let figure functions draw into `axes`, in the settings of whoever made them."""
    before = _GIVEN.set(axes)
    try:
        yield
    finally:
        _GIVEN.reset(before)


def given() -> Axes | None:
    """Return the axes that a reader gave to draw into, if any."""
    return _GIVEN.get()


def field(axes: Axes | None, width: float, height: float) -> Axes:
    """Return `axes`, or those that a reader gave, or those of a new figure of so many inches."""
    axes = axes or given()
    if axes is not None:
        return axes
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained").subplots()


def whole(axes: Axes) -> Figure:
    """Return the figure that `axes` stand in."""
    figure = axes.get_figure(root=True)
    assert figure is not None  # noqa: S101 - axes are always made by a figure
    return figure


def key_of(axes: Axes, side: Literal["right", "below"], **how: Any) -> None:
    """Write the key outside the field where the figure has no other, else inside it."""
    handles, labels = axes.get_legend_handles_labels()
    figure = whole(axes)
    if len(figure.axes) > 1 or figure.get_layout_engine() is None:
        axes.legend(handles, labels, **how)
        return
    place: Any = {"right": "outside right center", "below": "outside lower center"}[side]
    figure.legend(handles, labels, loc=place, **how)


def without_frame(axes: Axes, *, bottom: bool = False) -> None:
    """Take the line of the left side away and its ticks; with `bottom`, that one's too."""
    import seaborn as sns

    sns.despine(ax=axes, left=True, bottom=bottom)
    axes.tick_params(axis="y", length=0)


def mark(place: int) -> tuple[str, str]:
    """Return shape and ink of the sample at `place`: both differ, the shape tells it alone."""
    return MARKS[place % len(MARKS)], _INKS[place % len(_INKS)]


def point(place: int, size: float = 6) -> dict[str, Any]:
    """Return how the sample at `place` is marked in every figure: shape, ink, full or open.

    >>> point(1)["marker"], point(0)["markerfacecolor"], point(1)["markerfacecolor"]
    ('s', '#0173b2', 'white')
    """
    shape, ink = mark(place)
    filling = ink if place % 2 == 0 else "white"
    return {"marker": shape, "color": ink, "markersize": size, "markerfacecolor": filling}


def dash(place: int) -> Any:
    """Return the dashes of the line of the sample at `place`."""
    return DASHES[place % len(DASHES)]


def save(
    figure: Figure,
    to: Path | IO[bytes],
    *,
    kind: str | None = None,
    dots: int = 150,
    salt: str = "kikichoko",
    live: bool = False,
    **how: Any,
) -> None:
    """Save a figure, the same bytes for the same data.

    Parameters
    ----------
    figure : Figure
    to : Path or binary file
    kind : str, optional
        One of `KINDS`; by default that of the file's name.
    dots : int
        An inch, for pictures of dots.
    salt : str
        Makes the names inside an SVG differ from those of others on the same page.
    live : bool
        Write words in an SVG as words, for whoever has the face, instead of as their outlines.
    **how
        Passed on to ``savefig``.

    Raises
    ------
    OptionError
        If the kind is none of `KINDS`.
    """
    import matplotlib as mpl

    ending = kind or (to.suffix.lower().removeprefix(".") if isinstance(to, Path) else "")
    one_of("kind", ending, KINDS)
    layout = figure.get_layout_engine()
    if layout is not None:  # once for all kinds; any engine left in place draws each twice
        layout.execute(figure)
        with mpl.rc_context(_NO_LAYOUT):
            figure.set_layout_engine(None)
    letters_as = "none" if live else "path"
    files: Any = {"svg.hashsalt": salt, "svg.fonttype": letters_as, "pdf.fonttype": 42}
    if ending == "png":
        how.setdefault("pil_kwargs", {"compress_level": PRESSED})
    with mpl.rc_context(files):
        figure.savefig(to, format=ending, dpi=dots, metadata=_NO_DATE[ending], **how)


def beside(names: Sequence[str], width: float = PAPER_WIDTH) -> int:
    """Return how many names of a key stand side by side below a figure of so many inches.

    >>> beside(["A", "B"]), beside(["free-run of the first pressing"] * 6)
    (2, 3)
    >>> beside(["free-run of the first pressing"] * 6, PHONE_WIDTH)
    1
    """
    room = int(120 * width / PAPER_WIDTH) // (max(map(letters, names), default=0) + 7)
    return max(1, min(len(names), room, 4))


def short_name(text: str, limit: int) -> str:
    """Cut a name that is longer than `limit` letters; Japanese ones count twice.

    >>> short_name("yellow apple", 8), short_name("果実様の香り", 8)
    ('yellow …', '果実様…')
    """
    if letters(text) <= limit:
        return text
    while text and letters(text) > limit - 1:
        text = text[:-1]
    return text + "…"


def letters(text: str) -> int:
    """Count letters; Japanese ones are twice as wide."""
    return sum(2 if ord(letter) > 0x2E80 else 1 for letter in text)


def wrapped(text: str, width: int) -> list[str]:
    """Break text into lines of at most `width` letters; Japanese may break anywhere.

    It breaks between words where that takes no more lines. No line begins with a mark that
    closes or stops, and no paragraph ends in a line of one Japanese letter where as many lines
    can share their letters better.

    >>> wrapped("mean of the panel", 9), wrapped("太い線は平均、点は各人。", 8)
    (['mean of', 'the panel'], ['太い線は', '平均、点', 'は各人。'])
    >>> wrapped("瓶ごとの甘味の強さ（95%区間）", 20), wrapped("パネル全体の平均", 10)
    (['瓶ごとの甘味の強さ', '（95%区間）'], ['パネル', '全体の平均'])
    >>> wrapped("練習すること", 10), wrapped("ふくらみ", 6)
    (['練習する', 'こと'], ['ふく', 'らみ'])
    """
    lines: list[str] = []
    for paragraph in text.split("\n"):
        broken = _broken(paragraph, width)
        for less in range(2, width // 2, 2):
            if len(broken) < 2 or not _lonely(broken[-1]):
                break
            closer = _broken(paragraph, width - less)
            if len(closer) > len(broken):
                break
            broken = closer
        lines += broken
    return lines


def _lonely(line: str) -> bool:
    """Tell whether a line is one Japanese letter, beside marks."""
    left = [letter for letter in line if letter not in _NOT_FIRST]
    return len(left) == 1 and letters(left[0]) == 2


def _broken(text: str, width: int) -> list[str]:
    """Break between words where that takes no more lines than breaking at any letter."""
    at_letters, at_words = (_filled(text, width, pieces) for pieces in (_LETTERS, _WORDS))
    fits = max(map(letters, at_words)) <= max(width, *map(letters, at_letters))
    return at_words if fits and len(at_words) <= len(at_letters) else at_letters


def _filled(text: str, width: int, pieces: str) -> list[str]:
    lines, line = [], ""
    for piece in re.findall(pieces, text):
        if letters(line + piece) > width and line and piece not in _NOT_FIRST:
            lines.append(line.rstrip())
            line = "" if piece.isspace() else piece
        elif line or not piece.isspace():
            line += piece
    return [*lines, line.rstrip()]
