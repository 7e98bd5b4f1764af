"""All figures of a run: what is written, that it says what it is, and that nothing else is touched."""

from __future__ import annotations

import re
import subprocess
import sys
from xml.etree import ElementTree

import matplotlib as mpl
import pytest
from box_results import Maker
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from PIL import Image

from riskcut.figures import KINDS, STYLE, draw_all
from riskcut.figures.saving import save
from riskcut.results.wording import CAUTION

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ["reliability_by_stage", "margin_distributions", "sobol_bars", "convergence", "cut_section"]


@pytest.fixture(scope="module")
def written(trees, tmp_path_factory):
    folder = tmp_path_factory.mktemp("out") / "new"
    before = dict(mpl.rcParams)
    paths = draw_all(trees(1, 2), folder, "saltmarsh")
    assert dict(mpl.rcParams) == before
    return paths


def drawn(tree, kind, sheet):
    with mpl.rc_context(fname=str(STYLE)):
        figure = Figure()
        kind.draw(tree, figure, sheet)
    return figure


def sheets(tree, *, ends=True):
    for kind in KINDS:
        found = kind.sheets(tree)
        for sheet in [found[0], found[-1]] if ends and len(found) > 1 else found:
            yield kind, sheet


def test_every_figure_is_written_twice(written):
    assert [path.name for path in written] == [f"saltmarsh_{n}.{e}" for n in NAMES for e in ("png", "svg")]
    assert all(path.stat().st_size > 5000 for path in written)
    assert sorted(written[0].parent.iterdir()) == sorted(written)


def test_same_results_same_bytes(trees, written, tmp_path):
    again = draw_all(trees(1, 2), tmp_path, "saltmarsh")
    for one, other in zip(written, again, strict=True):
        assert one.read_bytes() == other.read_bytes(), one.name


def test_files_say_what_they_show(trees, written):
    shown = [kind for kind in KINDS if kind.sheets(trees(1, 2))]
    for kind, png, svg in zip(shown, written[::2], written[1::2], strict=True):
        words = kind.alternative_text(trees(1, 2), kind.sheets(trees(1, 2))[0])
        title = f"Saltmarsh pumping station, box A: {kind.title}"
        with Image.open(png) as image:
            image.load()
            assert image.text["Title"] == title
            assert image.text["Description"] == words
        root = ElementTree.parse(svg).getroot()
        assert root.get("role") == "img"
        assert root[0].tag == f"{SVG}title"
        assert root[0].text == title
        assert root[1].tag == f"{SVG}desc"
        assert root[1].text == words
        assert "<dc:date>" not in svg.read_text(encoding="utf-8")


def test_text_in_the_svg_is_text(written):
    svg = next(path for path in written if path.name == "saltmarsh_cut_section.svg")
    found = [element.text for element in ElementTree.parse(svg).iter(f"{SVG}text")]
    assert "soft clay" in found


def test_every_sheet_has_heading_caption_and_footer(trees):
    tree = trees(1, 2)
    for kind, sheet in sheets(tree):
        texts = {text.get_gid(): text.get_text() for text in drawn(tree, kind, sheet).texts}
        assert texts["heading"].startswith(kind.title)
        plain = texts["caption"].replace("\n", " ").replace("\N{NO-BREAK SPACE}", " ")
        assert plain == kind.alternative_text(tree, sheet)
        assert texts["footer"] == "Saltmarsh pumping station, box A · seed 20261 · 262,144 rows"
        assert texts["caution"].replace("\n", " ") == CAUTION


def test_every_axis_says_its_unit(trees):
    tree = trees(1, 8)
    for kind, sheet in sheets(tree, ends=False):
        axes = drawn(tree, kind, sheet).axes
        named = {label for one in axes for label in (one.get_xlabel(), one.get_ylabel()) if label}
        assert named
        for label in named - {"stage, in the order of building"}:
            assert re.search(r"\([^()]+\)$", label), label


def with_long_names():
    """The box as somebody would have it who names things in full, over strata too thin for their names."""
    maker = Maker(1, 12)
    coords = maker.coords
    coords["section"] = ["northern_pumping_station_intake_chamber_section_at_chainage_1250"]
    coords["stage"] = [f"{name}_with_a_rather_long_name" for name in coords["stage"]]
    coords["limit_state"] = [f"{name}_of_the_second_intermediate_level" for name in coords["limit_state"]]
    coords["stratum"] = ["made_ground_with_rubble", "very_soft_organic_silty_clay", "clay", "sand_aquifer"]
    coords["variable"] = [f"{name}_with_a_long_unbroken_tail_of_words" for name in coords["variable"]]
    tree = maker.tree()
    tree["cut"].dataset["stratum_top"].values[0] = (3.2, 2.9, 2.5, 2.0)
    return tree


@pytest.mark.parametrize("size", [(1, 1), (1, 8), (40, 12), "long names"])
def test_nothing_written_leaves_its_sheet_or_meets_another(trees, size):
    tree = with_long_names() if size == "long names" else trees(*size)
    for kind, sheet in sheets(tree):
        figure = drawn(tree, kind, sheet)
        with mpl.rc_context(fname=str(STYLE)):
            renderer = FigureCanvasAgg(figure).get_renderer()
            figure.draw_without_rendering()
            around = {text.get_gid(): text.get_window_extent(renderer) for text in figure.texts}
            key = figure.legends[0].get_window_extent(renderer)
            heads = [axes.title for axes in figure.axes] + [axes._left_title for axes in figure.axes]
            headings = [text.get_window_extent(renderer) for text in heads if text.get_text()]
            inside = [t.get_window_extent(renderer) for axes in figure.axes for t in axes.texts]
            scales = [
                box
                for axes in figure.axes
                for axis in (axes.xaxis, axes.yaxis)
                if (box := axis.get_tightbbox(renderer)) is not None
            ]
        where = f"{kind.name} {size} {sheet}"
        page = figure.bbox.padded(1.0)
        for box in [*around.values(), key, *headings, *inside, *scales]:
            assert page.containsx(box.x0), where
            assert page.containsx(box.x1), where
            assert page.containsy(box.y0), where
            assert page.containsy(box.y1), where
        apart = [*headings, *around.values(), key]
        for number, one in enumerate(apart):
            assert not any(one.overlaps(other) for other in apart[:number]), where
        assert all(key.y1 <= box.y0 + 1 for box in scales + inside), where
        assert key.y0 >= around["caption"].y1, where
        for axes in figure.axes:
            boxes = [Text.get_window_extent(text, renderer) for text in axes.texts]  # without arrows
            for number, one in enumerate(boxes):
                assert not any(one.overlaps(other) for other in boxes[:number]), where


def test_names_from_the_study_are_plain_text(trees, tmp_path):
    """Neither mathematics nor markup: a name is written as it stands."""
    box = trees(1, 1).copy(deep=True)
    box.attrs["title"] = "Box <A> & B, $x_1$ per $"
    kind = next(kind for kind in KINDS if kind.name == "cut_section")
    with mpl.rc_context(fname=str(STYLE)):
        figure = Figure()
        kind.draw(box, figure, ["box_A1"])
        paths = save(figure, tmp_path, "x", "y", title=box.attrs["title"], description="less < than & more")
    root = ElementTree.parse(paths[1]).getroot()
    assert root[0].text == box.attrs["title"]
    assert root[1].text == "less < than & more"
    assert any((t.text or "").startswith("Box <A> & B, $x_1$ per $ ·") for t in root.iter(f"{SVG}text"))


def test_several_sheets_are_numbered_and_sections_named(trees, tmp_path, monkeypatch):
    tree = trees(9, 2)
    seen = []
    told = []
    monkeypatch.setattr(
        "riskcut.figures.save", lambda *args, **_kwargs: seen.append(args[3]) or [tmp_path / args[3]]
    )
    draw_all(tree, tmp_path, "s", progress=lambda done, of: told.append((done, of)))
    assert seen[:2] == ["reliability_by_stage_1", "reliability_by_stage_2"]
    assert seen[-9:] == [f"cut_section_{name}" for name in tree["section"].values]
    assert told == [(k, len(seen)) for k in range(1, len(seen) + 1)]


def test_sections_that_a_file_system_confuses_get_files_of_their_own(tmp_path, monkeypatch):
    maker = Maker(3, 1)
    maker.coords["section"] = ["north/end", "north end", "North_End"]
    seen = []
    monkeypatch.setattr("riskcut.figures.save", lambda *args, **_kwargs: seen.append(args[3]) or [])
    draw_all(maker.tree(), tmp_path, "s")
    cuts = [name for name in seen if name.startswith("cut_section")]
    assert len({name.casefold() for name in cuts}) == 3
    assert all(re.fullmatch(r"[\w-]+", name) for name in cuts)


def test_failure_leaves_earlier_files_whole(tmp_path):
    figure = Figure()
    figure.text(0.5, 0.5, "first")
    png, svg = save(figure, tmp_path, "s", "f", title="t", description="d")
    before = png.read_bytes()
    svg.unlink()
    (tmp_path / "s_f.svg").mkdir()
    (tmp_path / "s_f.svg" / "in the way").touch()
    figure.text(0.2, 0.2, "second")
    png.unlink()
    png.mkdir()
    (png / "in the way").touch()
    with pytest.raises(OSError):  # noqa: PT011 - the kind of OSError is the system's
        save(figure, tmp_path, "s", "f", title="t", description="d")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["s_f.png", "s_f.svg"]
    assert before


def test_pyplot_is_never_imported(tmp_path):
    """Nor is any window system's backend."""
    code = (
        "import sys, riskcut.figures as f\n"
        "from riskcut.figures.saving import save\n"
        "from matplotlib.figure import Figure\n"
        f"save(Figure(), {str(tmp_path)!r}, 's', 'n', title='t', description='d')\n"
        "print([m for m in sys.modules if m in ('matplotlib.pyplot', 'tkinter')])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
