from datetime import date
from io import BytesIO

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely
from matplotlib.figure import Figure
from pypdf import PdfReader

from swarmwatch.errors import UsageError
from swarmwatch.mapping.land import read_land
from swarmwatch.mapping.paper import our_look, text_mm, wrapped, written
from swarmwatch.mapping.scene import read_scene
from swarmwatch.mapping.sheet import map_picture, map_sheet
from swarmwatch.mapping.sheet_map import draw_ground, frame_of

ON = date(2026, 5, 14)
LONG = "the site behind the third barn on the way to the mill and the old orchard " * 3


def drawn(tables):
    return {
        "sources": tables["sources"],
        "apiaries": tables["apiaries"],
        "sites": tables["sites"],
        "scores": tables["scores"],
        "keep_out": tables["keep_out"],
        "hangings": tables["hangings"],
        "land": read_land(tables["land"]),
    }


def sheet_of(tables, **more):
    return map_sheet(tables["plan"], made_on=ON, **(drawn(tables) | more))


def text_of(pdf):
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages)


@pytest.fixture(scope="module")
def village(map_tables):
    """The village's sheet as PDF."""
    return sheet_of(map_tables)


@pytest.fixture(scope="module")
def village_text(village):
    return text_of(village)


@pytest.fixture(scope="module")
def odd_text(map_tables):
    """What a sheet says whose spots have odd names and one warning for all."""
    names = ["$x^2$ and ${hive}", "Hive \U0001f41d", "\u6797", "Mill barn", "School edge"]
    plan = map_tables["plan"].assign(
        site=names, box="\U0001f5f3", warnings="look up before you lift"
    )
    return text_of(sheet_of(map_tables | {"plan": plan}))


@pytest.fixture(scope="module")
def ground(map_tables):
    """The map drawn on axes of 180 x 110 mm: the axes, the scene and its window."""
    tables = drawn(map_tables)
    land = tables.pop("land")
    scene = read_scene(map_tables["plan"], **tables)
    frame = frame_of(scene, width_mm=180, height_mm=110)
    with our_look():
        axes = Figure(figsize=(180 / 25.4, 110 / 25.4)).add_axes((0, 0, 1, 1))
        draw_ground(axes, scene, land, frame)
    return axes, scene, frame


def test_two_sheets_are_equal_to_the_byte_whatever_the_keepers_own_settings(village, map_tables):
    import matplotlib as mpl

    with mpl.rc_context({"font.size": 30, "axes.facecolor": "black", "pdf.fonttype": 3}):
        assert sheet_of(map_tables) == village


def test_the_pages_are_a4_upright(village):
    boxes = [page.mediabox for page in PdfReader(BytesIO(village)).pages]
    sizes_mm = [(float(b.width) / 72 * 25.4, float(b.height) / 72 * 25.4) for b in boxes]
    assert np.allclose(sizes_mm, (210, 297), rtol=0, atol=0.5)


def test_a_sheet_for_letter_paper_is_of_its_size(map_tables):
    boxes = [p.mediabox for p in PdfReader(BytesIO(sheet_of(map_tables, size="letter"))).pages]
    sizes_mm = [(float(b.width) / 72 * 25.4, float(b.height) / 72 * 25.4) for b in boxes]
    assert np.allclose(sizes_mm, (215.9, 279.4), rtol=0, atol=0.5)


def test_another_paper_is_refused(map_tables):
    with pytest.raises(UsageError, match="a4, letter"):
        sheet_of(map_tables, size="a0")


@pytest.mark.parametrize(
    "words",
    [
        "Old orchard shed",
        "Mrs Żółkiewska",
        "entrance south-east (150°)",
        "likely 0.4 to 1.7",
        "59 % for one or more",
        "ask first: asked, no yes",
        "mind: above a path",
        "Made on 2026-05-14",
        "1 out for 4 up",
        "Odds, not promises",
        "Africanized bees",
        "Invented ground, drawn for the tests",
        "Page 1 of 2",
        "keep out: no box",
        "yard, most urgent: today",
        "a bait box hangs here",
        "Walking order from Mill yard: to spot",
        "lengths are straight lines",
        "walking order, straight lines",
        "Checks are planned from the ground; above 3 m only when asked for",
    ],
)
def test_the_sheet_says(village_text, words):
    assert words in village_text


def test_every_spot_has_its_line_when_there_are_many(map_tables):
    many = pd.concat([map_tables["plan"]] * 5, ignore_index=True)
    many = many.assign(rank=range(1, 26), site=[f"Place no {k}" for k in range(1, 26)])
    text = text_of(map_sheet(many, made_on=ON, **drawn(map_tables)))
    assert all(f"Place no {k} " in text for k in range(1, 26))


def test_what_holds_at_every_spot_is_said_once(odd_text):
    assert odd_text.count("look up before you lift") == 1


def test_dollars_in_a_name_are_dollars(odd_text):
    assert "$x^2$ and ${hive}" in odd_text


def test_an_emoji_is_named_without_a_warning(odd_text):
    assert "Hive [honeybee]" in odd_text


def test_letters_that_the_font_lacks_are_owned_up_to(odd_text):
    assert "a letter that this sheet's font lacks" in odd_text


def test_an_empty_plan_is_a_sheet_that_says_so(map_tables):
    plan = map_tables["plan"].head(0)
    assert "No spot was chosen." in text_of(sheet_of(map_tables | {"plan": plan}))


def test_a_lone_yard_without_anything_else_is_drawn(map_tables):
    pdf = map_sheet(
        map_tables["plan"].head(0),
        sources=map_tables["sources"].head(0),
        apiaries=map_tables["apiaries"].head(1),
        made_on=ON,
    )
    assert "Home yard" in text_of(pdf)


@pytest.mark.parametrize("text", [LONG, "unterbeamtengesellschaft" * 6])
def test_no_line_is_wider_than_its_column(text):
    lines = wrapped(text, width_mm=40, size=8)
    assert max(text_mm(line, size=8) for line in lines) <= 40


def test_wrapping_loses_no_word():
    assert " ".join(wrapped(LONG, width_mm=40, size=8)).split() == LONG.split()


def test_a_blank_text_has_no_lines():
    assert wrapped("  ", width_mm=40, size=8) == []


def test_polish_letters_are_written_as_they_are():
    assert written("Zażółć gęślą jaźń") == "Zażółć gęślą jaźń"


def test_the_arrow_of_north_points_up(ground):
    axes, _, _ = ground
    (arrow,) = [a for a in axes.texts if a.get_gid() == "north-arrow"]
    assert arrow.xy[1] > arrow.get_position()[1]
    assert arrow.xy[0] == arrow.get_position()[0]
    assert arrow.arrowprops["arrowstyle"] == "-|>"


def test_up_on_the_sheet_is_true_north(ground):
    _, scene, _ = ground
    south, north = scene.grid.metres([51.99, 52.01], [5.0, 5.0])
    assert abs(np.degrees(np.arctan2(*(north - south)))) < 0.05


def test_the_scale_is_the_same_both_ways(ground):
    axes, _, frame = ground
    wide, high = np.ptp(axes.get_xlim()), np.ptp(axes.get_ylim())
    assert (wide / 180, high / 110) == pytest.approx((frame.metres_a_mm,) * 2, rel=1e-9)


def test_every_spot_and_yard_lies_inside_the_map(ground):
    _, scene, frame = ground
    places = [(s.latitude, s.longitude) for s in (*scene.spots, *scene.yards, *scene.places)]
    on_paper = frame.on_paper(scene.grid.metres(*zip(*places, strict=True)))
    assert (on_paper > 3).all()
    assert (on_paper < (177, 107)).all()


def test_the_picture_is_a_png_of_a_landscape_sheet(map_tables):
    picture = map_picture(map_tables["plan"], **drawn(map_tables))
    assert picture.startswith(b"\x89PNG")
    assert picture == map_picture(map_tables["plan"], **drawn(map_tables))


def test_the_legend_names_no_land_that_lies_off_the_sheet(map_tables):
    plan = map_tables["plan"]
    here, away = (
        shapely.Point(plan["longitude"].mean() + east, plan["latitude"].mean()).buffer(0.001)
        for east in (0, 1)
    )
    frame = geopandas.GeoDataFrame({"kind": ["wood", "orchard"]}, geometry=[here, away], crs=4326)
    text = text_of(sheet_of(map_tables, land=read_land(frame)))
    assert "wood" in text
    assert "orchard" not in text.replace("Old orchard", "")


def test_land_of_every_shape_is_drawn(map_tables):
    import json

    rings = [[[5.0, 52.0], [5.002, 52.0], [5.002, 52.002], [5.0, 52.0]]]
    tree = {"type": "Point", "coordinates": [5.001, 52.0]}
    shapes = [
        ("tree", tree),
        ("wood", {"type": "MultiPolygon", "coordinates": [rings]}),
        ("wood", {"type": "GeometryCollection", "geometries": [tree]}),
        ("path", {"type": "MultiLineString", "coordinates": rings}),
    ]
    features = [
        {"type": "Feature", "properties": {"kind": kind}, "geometry": geometry}
        for kind, geometry in shapes
    ]
    land = read_land(json.dumps({"type": "FeatureCollection", "features": features}))
    text = text_of(sheet_of(map_tables, land=land))
    assert all(word in text for word in ("tree", "wood", "path"))
