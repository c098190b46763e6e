"""The drawings: nothing overlaps, nothing is lost, nothing a user types gets out."""

import logging
import random
from itertools import combinations, pairwise
from math import dist, hypot
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from weasyprint import HTML

from builds.drawings.axle_chart import ChartLimits, ChartPoint, axle_chart
from builds.drawings.balloons import assign
from builds.drawings.dash import Place, dash_view
from builds.drawings.drop_chart import DropBar, drop_chart
from builds.drawings.plan import RADIUS, ZONE_NAMES, Mark, VehicleShape, plan_view
from builds.drawings.soc_chart import ChargeLine, soc_chart
from builds.drawings.svg import clip, link, wrap
from builds.drawings.zone_chart import ZoneBar, zone_chart

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>alert(1)</script>\"'&\x00\x0b\ud800]]>ไทย عربي"
BODIES = [
    "dual-cab-ute",
    "extra-cab-ute",
    "wagon",
    "van",
    "cab-chassis",
    "caravan",
    "camper-trailer",
    "plant-trailer",
]


def vehicle(body_type="dual-cab-ute", **changes):
    geometry = {
        "wheelbase_mm": 3180,
        "front_overhang_mm": 930,
        "rear_overhang_mm": 1230,
        "width_mm": 1880,
        "track_mm": 1555,
    }
    return VehicleShape(body_type=body_type, **(geometry | changes))


def mark(number, **changes):
    given = {"label": f"Item {number}", "x_mm": -1500, "y_mm": 0, "zone": "cabin"}
    return Mark(number=number, **(given | changes))


def random_marks(count, seed):
    rng = random.Random(seed)
    return [
        mark(
            n,
            x_mm=rng.choice([None, rng.randint(-9000, 4000), -2500]),
            y_mm=rng.choice([None, 0, rng.randint(-2000, 2000)]),
            zone=rng.choice(list(ZONE_NAMES)),
            done=rng.choice([None, True, False]),
        )
        for n in range(1, count + 1)
    ]


def balloons(drawing):
    """The circles that carry a number, as (number, x, y)."""
    found = []
    for group in ElementTree.fromstring(drawing).iter():
        for ring, text in pairwise(group):
            if ring.tag == f"{SVG}circle" and text.tag == f"{SVG}text":
                at = float(ring.get("cx")), float(ring.get("cy"))
                if float(ring.get("r")) == RADIUS:
                    found.append((int(text.text), *at))
    return found


@settings(max_examples=40, deadline=None)
@given(
    count=st.integers(0, 75),
    seed=st.integers(0, 10**6),
    body=st.sampled_from(BODIES),
    width=st.integers(300, 3000),
    wheelbase=st.integers(500, 9000),
)
def test_circles_never_overlap_and_every_number_is_there_once(
    count, seed, body, width, wheelbase
):
    marks = random_marks(count, seed)
    shape = vehicle(body, width_mm=width, wheelbase_mm=wheelbase)
    drawing = plan_view(shape, marks)
    drawn = balloons(drawing)
    assert sorted(n for n, _, _ in drawn) == [m.number for m in marks]
    for (_, *a), (_, *b) in combinations(drawn, 2):
        assert dist(a, b) >= 2 * RADIUS
    _, _, across, down = ElementTree.fromstring(drawing).get("viewBox").split()
    for _, x, y in drawn:
        assert RADIUS <= x <= float(across) - RADIUS
        assert RADIUS <= y <= float(down) - RADIUS


def test_two_hundred_marks_at_one_spot_still_stand_apart():
    drawn = balloons(plan_view(vehicle(), [mark(n) for n in range(1, 201)]))
    assert len(drawn) == 200
    assert min(dist(a[1:], b[1:]) for a, b in combinations(drawn, 2)) >= 2 * RADIUS


def test_the_same_marks_give_the_same_drawing():
    first, second = (plan_view(vehicle(), random_marks(45, 7)) for _ in range(2))
    assert first == second


def crosses(a, b, c, d):
    def side(p, q, r):
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return (
        side(a, b, c) * side(a, b, d) < -1e-6 and side(c, d, a) * side(c, d, b) < -1e-6
    )


def test_leader_lines_do_not_cross():
    rng = random.Random(3)
    spots = [(rng.uniform(80, 800), rng.uniform(80, 300)) for _ in range(40)]
    places = [(x * 31.0, y) for x in range(29) for y in (0.0, 400.0)]
    leaders = [
        (spot, places[i]) for spot, i in zip(spots, assign(spots, places), strict=True)
    ]
    assert not any(crosses(*a, *b) for a, b in combinations(leaders, 2))


def test_each_spot_gets_its_own_place():
    with pytest.raises(ValueError, match="fewer places"):
        assign([(0, 0), (1, 1)], [(0, 0)])


def test_a_leader_ends_at_the_true_spot():
    """Front to the left, to scale: a tenth of the wheelbase is a tenth of the way."""
    marks = [
        mark(1, x_mm=0, y_mm=0),
        mark(2, x_mm=-3180, y_mm=0),
        mark(3, x_mm=-318, y_mm=318),
    ]
    root = ElementTree.fromstring(plan_view(vehicle(), marks))
    dots = [
        (float(c.get("cx")), float(c.get("cy")))
        for group in root.iter(f"{SVG}g")
        if group.get("pointer-events") == "none"
        for c in group.iter(f"{SVG}circle")
    ]
    front, rear, third = dots
    assert front[0] < rear[0]
    assert third[0] - front[0] == pytest.approx((rear[0] - front[0]) / 10, abs=0.2)
    # The vehicle's left is below when its front is to the left.
    assert third[1] - front[1] == pytest.approx((rear[0] - front[0]) / 10, abs=0.2)


def test_what_has_no_place_is_listed_by_zone_and_not_pointed_at():
    drawing = plan_view(
        vehicle(), [mark(1, x_mm=None, zone="roof"), mark(2, zone="trailer")]
    )
    texts = [t.text for t in ElementTree.fromstring(drawing).iter(f"{SVG}text")]
    start = texts.index("No place on this drawing")
    assert texts[start + 1 :] == ["Roof", "1", "Trailer", "2"]
    assert "pointer-events" not in drawing  # no leader lines at all


def test_an_unrecorded_side_is_an_open_ring():
    known, unknown = (
        plan_view(vehicle(), [mark(1, y_mm=y, zone="left-side")]) for y in (900, None)
    )
    assert known.count('r="2.8" fill="#ffffff"') == 1  # the key only
    assert unknown.count('r="2.8" fill="#ffffff"') == 2


def test_zones_and_marks_link_and_say_their_name():
    zones = {zone: f"?zone={zone}" for zone in ZONE_NAMES}
    drawing = plan_view(
        vehicle(), [mark(7, label="Fridge", href="#item-7", done=True)], zones=zones
    )
    root = ElementTree.fromstring(drawing)
    links = {a.get("href"): a for a in root.iter(f"{SVG}a")}
    assert set(links) == {*zones.values(), "#item-7"}
    assert links["#item-7"].find(f"{SVG}title").text == "7 Fridge, done"
    assert links["?zone=under-bonnet"].get("aria-label") == "Under the bonnet"
    assert root.get("role") == "group"
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]


def test_a_plain_drawing_is_one_image():
    root = ElementTree.fromstring(plan_view(vehicle(), [mark(1)]))
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == "Vehicle from above"
    assert "Cabin: 1." in root.find(f"{SVG}desc").text


def test_each_body_is_drawn_differently():
    drawn = {plan_view(vehicle(body), []).split("</desc>")[1] for body in BODIES}
    assert len(drawn) == len(BODIES)


@pytest.mark.parametrize(
    "changes",
    [{"body_type": "rocket"}, {"wheelbase_mm": 0}, {"width_mm": -1}, {"track_mm": 0}],
)
def test_a_vehicle_that_cannot_be_is_refused(changes):
    with pytest.raises(ValueError, match=r"no drawing|positive"):
        vehicle(**changes)


@pytest.mark.parametrize("href", ["javascript:alert(1)", " data:text/html,x", ""])
def test_a_drawing_links_only_to_pages(href):
    with pytest.raises(ValueError, match="may not link"):
        link("", href, "x")


def every_drawing(text):
    place = Place(key="k", panel=text, label=text, legend=text, number=3)
    blank = Place(key=text, panel="dash right", label="", legend=None, number=None)
    point = ChartPoint(label=text, front_kg=1100, rear_kg=900, front_u_kg=20)
    limits = ChartLimits(front_axle_kg=1480, rear_axle_kg=1800, gvm_kg=3150)
    return [
        plan_view(
            vehicle(),
            [
                mark(1, label=text, href=f"/x?{text}"),
                mark(2, label=text, x_mm=None, zone=text),
            ],
            zones={"roof": f"/{text}"},
        ),
        dash_view([place, blank]),
        axle_chart([point], limits, [point]),
        soc_chart([ChargeLine(label=text, ratios=[0.9] * 30, reserve_ratio=0.2)], 11),
        drop_chart(
            [
                DropBar(key=text, label=text, drop_percent=2, limit_percent=3),
                DropBar(key="x", label=text, drop_percent=None, limit_percent=3),
            ]
        ),
        zone_chart([ZoneBar(label=text, fitted_kg=3, removed_kg=2, unweighed=1)]),
    ]


def test_hostile_words_stay_words():
    for drawing in every_drawing(HOSTILE):
        root = ElementTree.fromstring(drawing)
        assert {e.tag.removeprefix(SVG) for e in root.iter()} <= {
            "svg", "title", "desc", "g", "a", "path", "line", "rect", "circle",
            "polygon", "text",
        }  # fmt: skip
        assert not any(name.startswith("on") for e in root.iter() for name in e.attrib)
        assert "<script" not in drawing
        assert drawing.encode()


def test_drawings_need_no_page_styles():
    for drawing in every_drawing("Lamp"):
        root = ElementTree.fromstring(drawing)
        names = {name for e in root.iter() for name in e.attrib}
        assert names.isdisjoint({"class", "style", "id"})
        assert "var(" not in drawing
        assert root.get("font-family") == "Inter, DejaVu Sans, sans-serif"


def test_long_words_are_cut_with_an_ellipsis():
    assert clip("A" * 50, 58, 10) == "AAAAAAAAA…"
    assert clip("short", 58, 10) == "short"
    assert wrap("driving lamps on the front bar", 58, 10, 2) == ["driving", "lamps on…"]
    assert wrap("", 58, 10, 2) == []


def test_the_dash_shows_each_place_by_its_panel():
    places = [
        Place(
            key="a", panel="dash right", label="row 1 col 1", legend="Lamps", number=4
        ),
        Place(
            key="b", panel="dash right", label="row 2 col 1", legend=None, number=None
        ),
        Place(key="c", panel="roof console", label="", legend="Radio", number=9),
    ]
    drawing = dash_view(places)
    root = ElementTree.fromstring(drawing)
    at = {
        t.text: (float(t.get("x")), float(t.get("y"))) for t in root.iter(f"{SVG}text")
    }
    assert {"Dash right", "Roof console", "Lamps", "blank", "Radio", "4", "9"} <= set(
        at
    )
    assert at["Roof console"][1] < at["Dash right"][1]
    assert at["row 1 col 1"][0] == at["row 2 col 1"][0]
    assert at["row 1 col 1"][1] < at["row 2 col 1"][1]
    assert drawing.count("stroke-dasharray") == 1  # the blank alone
    assert "dash right, row 1 col 1: Lamps, item 4." in root.find(f"{SVG}desc").text


def test_the_right_hand_panel_stands_next_to_the_wheel():
    places = [
        Place(key=name, panel=name, label="", legend="x", number=1)
        for name in ("dash right", "dash centre", "dash left")
    ]
    root = ElementTree.fromstring(dash_view(places))
    x = {t.text: float(t.get("x")) for t in root.iter(f"{SVG}text")}
    assert x["Dash left"] < x["Dash centre"] < x["Dash right"] < x["driver"]


def test_places_that_claim_the_same_cell_are_both_drawn():
    places = [
        Place(key=k, panel="dash", label="row 1 col 1", legend=k, number=n)
        for n, k in enumerate("ab", start=1)
    ]
    root = ElementTree.fromstring(dash_view(places))
    at = [
        (t.text, float(t.get("x")))
        for t in root.iter(f"{SVG}text")
        if t.text in ("a", "b")
    ]
    assert len({x for _, x in at}) == 2


def test_a_dash_without_places_says_so():
    assert "No switch places are recorded." in dash_view([])


def chart_dots(drawing):
    return [
        (float(c.get("cx")), float(c.get("cy")))
        for c in ElementTree.fromstring(drawing).iter(f"{SVG}circle")
    ]


def test_a_heavier_rear_axle_stands_higher_and_a_heavier_front_further_right():
    limits = ChartLimits(front_axle_kg=1480, rear_axle_kg=1800, gvm_kg=3150)
    points = [
        ChartPoint(label="light", front_kg=1200, rear_kg=900),
        ChartPoint(label="rear", front_kg=1200, rear_kg=1500),
        ChartPoint(label="front", front_kg=1400, rear_kg=900),
    ]
    light, rear, front = chart_dots(axle_chart(points, limits))
    assert rear[0] == light[0]
    assert rear[1] < light[1]
    assert front[0] > light[0]
    assert front[1] == light[1]


def test_the_shaded_part_is_what_no_limit_forbids():
    points = [ChartPoint(label="touring", front_kg=1300, rear_kg=1700)]

    def corners(gvm):
        limits = ChartLimits(front_axle_kg=1480, rear_axle_kg=1800, gvm_kg=gvm)
        root = ElementTree.fromstring(axle_chart(points, limits))
        return root.find(f"{SVG}polygon").get("points").split()

    assert len(corners(None)) == 4
    assert len(corners(3150)) == 5  # GVM cuts the corner that both axles allow


@pytest.mark.parametrize(
    "limits",
    [
        ChartLimits(front_axle_kg=None, rear_axle_kg=None, gvm_kg=None),
        ChartLimits(front_axle_kg=1480, rear_axle_kg=None, gvm_kg=1000),
        ChartLimits(front_axle_kg=1480, rear_axle_kg=1800, gvm_kg=90000),
    ],
)
def test_a_chart_with_missing_or_distant_limits_is_still_drawn(limits):
    point = ChartPoint(label="as weighed", front_kg=1100, rear_kg=900)
    ElementTree.fromstring(axle_chart([point], limits))


def test_letters_of_coinciding_points_stay_apart():
    limits = ChartLimits(front_axle_kg=1480, rear_axle_kg=1800, gvm_kg=3150)
    same = [ChartPoint(label=x, front_kg=1300, rear_kg=1500) for x in "pqrs"]
    root = ElementTree.fromstring(axle_chart(same, limits))
    dot = chart_dots(axle_chart(same, limits))[0]
    near = [
        (float(t.get("x")), float(t.get("y")))
        for t in root.iter(f"{SVG}text")
        if t.text in "abcd" and dist((float(t.get("x")), float(t.get("y"))), dot) < 30
    ]
    assert len(near) == 4
    assert min(dist(a, b) for a, b in combinations(near, 2)) > 12


def test_the_band_of_a_point_reaches_as_far_as_its_tolerance():
    limits = ChartLimits(front_axle_kg=1500, rear_axle_kg=1800, gvm_kg=None)
    point = ChartPoint(
        label="x", front_kg=1300, rear_kg=1500, front_u_kg=50, rear_u_kg=100
    )
    edge = ChartPoint(label="y", front_kg=1350, rear_kg=1600)
    drawing = axle_chart([point, edge], limits)
    dot, corner = chart_dots(drawing)
    frame = next(
        r
        for r in ElementTree.fromstring(drawing).iter(f"{SVG}rect")
        if r.get("stroke-dasharray")
    )
    left, top = float(frame.get("x")), float(frame.get("y"))
    assert (left + float(frame.get("width")), top) == pytest.approx(corner, abs=0.2)
    assert left == pytest.approx(2 * dot[0] - corner[0], abs=0.2)


def test_the_path_widens_the_chart_to_the_bare_vehicle():
    limits = ChartLimits(front_axle_kg=1480, rear_axle_kg=1800, gvm_kg=3150)
    point = ChartPoint(label="touring", front_kg=1400, rear_kg=1700)
    bare = ChartPoint(label="bare", front_kg=900, rear_kg=600)
    root = ElementTree.fromstring(axle_chart([point], limits, [bare, point]))
    marks = [
        (float(r.get("x")), float(r.get("y")))
        for r in root.iter(f"{SVG}rect")
        if r.get("width") == r.get("height") == "5"
    ]
    assert len(marks) == 2
    assert all(66 < x < 494 and 30 < y < 372 for x, y in marks)


def test_a_chart_of_nothing_is_refused():
    limits = ChartLimits(front_axle_kg=None, rear_axle_kg=None, gvm_kg=None)
    with pytest.raises(ValueError, match="at least one point"):
        axle_chart([], limits)


def test_the_printer_takes_every_drawing_without_complaint(caplog):
    drawings = [
        *every_drawing("Driving lamps"),
        *(plan_view(vehicle(body), random_marks(45, 1)) for body in BODIES),
    ]
    page = "<html lang=en><title>x</title>" + "".join(drawings)
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        pdf = HTML(string=page).write_pdf()
    assert pdf.startswith(b"%PDF")
    assert [r.getMessage() for r in caplog.records] == []


def test_leaders_are_short_where_there_is_room():
    """One mark gets the nearest place on the frame, not just any."""
    root = ElementTree.fromstring(plan_view(vehicle(), [mark(1, y_mm=800)]))
    leader = next(
        e
        for group in root.iter(f"{SVG}g")
        if group.get("pointer-events") == "none"
        for e in group.iter(f"{SVG}line")
    )
    ends = [float(leader.get(k)) for k in ("x1", "y1", "x2", "y2")]
    assert hypot(ends[0] - ends[2], ends[1] - ends[3]) < 120
