"""The charts: what they show, that every word can be read, and their page."""

from __future__ import annotations

import html
import re
from xml.etree import ElementTree

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.chart_gaps import Results
from builds.charts import (
    axle_path,
    charge_lines,
    charts_of,
    daylight_h,
    drop_bars,
    zone_bars,
)
from builds.demo import scenario
from builds.drawings.axle_chart import ChartLimits, ChartPoint, axle_chart
from builds.drawings.chart_axes import figure, fit, fit_lines, spread, text_width
from builds.drawings.drop_chart import DropBar, drop_chart, in_order
from builds.drawings.soc_chart import ChargeLine, soc_chart
from builds.drawings.zone_chart import ZoneBar, zone_chart
from builds.handover import pack_html
from builds.models import BuildJob, Stage
from builds.services.checks import report_of
from builds.snapshots import circuits_of, items_of
from tests.builds.drawn import SVG, crossing, font, outside, text_boxes
from tests.factories import (
    BuildJobFactory,
    LineItemFactory,
    PartTypeFactory,
    VehicleFactory,
)

LONG = "Wide-angle MMMM work lamp pair on the WWWW left-hand canopy door, upper row"
LIMITS = ChartLimits(front_axle_kg=1480, rear_axle_kg=1850, gvm_kg=3200)


def words_of(response) -> str:
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", html.unescape(text))


def texts(drawing: str) -> list[str]:
    return [words for words, _ in text_boxes(drawing)]


# Every word can be read.


def eight_close_ways() -> str:
    points = [
        ChartPoint(
            label=f"{LONG} {n}",
            front_kg=1400 + n,
            rear_kg=1700 - 2 * n,
            front_u_kg=26,
            rear_u_kg=28,
        )
        for n in range(8)
    ]
    path = [
        ChartPoint(label=LONG, front_kg=front, rear_kg=rear)
        for front, rear in [
            (1180, 940),
            (1395, 1690),
            (1396, 1692),
            (1400, 1695),
            (1400, 1700),
            (1400, 1700),
        ]
    ]
    return axle_chart(points, LIMITS, path)


def three_batteries(days: int) -> str:
    def ratios(low: float) -> list[float]:
        return [low + (1 - low) * abs((h % 24) - 12) / 12 for h in range(24 * days)]

    lines = [
        ChargeLine(label=f"{LONG} {n}", ratios=ratios(0.2 + n / 50), reserve_ratio=r)
        for n, r in enumerate((0.2, 0.5, 0.21))
    ]
    return soc_chart(lines, 10.7)


def thirty_circuits() -> str:
    bars = [
        DropBar(
            key=f"c{n}",
            label=f"{LONG} {n}",
            drop_percent=None if n % 7 == 3 else n / 3,
            limit_percent=None if n % 11 == 5 else (3, 5, 10)[n % 3],
            verdict=("within", "not proven", "over")[n % 3],
        )
        for n in range(30)
    ]
    wild = DropBar(
        key="x", label=LONG, drop_percent=312, limit_percent=3, verdict="over"
    )
    return drop_chart([*bars, wild])


def every_zone(scale: float = 1.0) -> str:
    return zone_chart(
        [
            ZoneBar(
                label=f"{LONG} {n}",
                fitted_kg=scale * n * 41.7,
                removed_kg=scale * (n % 3) * 230.5,
                unweighed=(n % 4) * 11,
            )
            for n in range(11)
        ]
    )


HARD = {
    "eight ways of loading side by side": eight_close_ways,
    "three batteries that end alike": lambda: three_batteries(3),
    "sixty days": lambda: three_batteries(60),
    "thirty circuits": thirty_circuits,
    "every zone": every_zone,
    "zones of many tonnes": lambda: every_zone(300.0),
    "zones of nothing": lambda: every_zone(0.0),
}


@pytest.mark.parametrize("draw", HARD.values(), ids=HARD.keys())
def test_no_words_stand_upon_each_other_or_run_off(draw):
    drawing = draw()

    assert len(texts(drawing)) > 10
    assert crossing(drawing) == []
    assert outside(drawing) == []


def test_the_measure_of_words_on_each_other_finds_them():
    """Two labels of one place: what the test above is to notice."""
    drawing = eight_close_ways()
    first = re.search(r"<text [^>]*>Ways of loading</text>", drawing)[0]

    assert crossing(drawing.replace(first, first * 2)) == [("Ways of loading",) * 2]


@settings(max_examples=60, deadline=None)
@given(
    loads=st.lists(
        st.tuples(st.floats(-200, 9000), st.floats(-200, 9000)), min_size=1, max_size=8
    ),
    steps=st.lists(
        st.tuples(st.floats(0, 4000), st.floats(0, 4000)), min_size=0, max_size=6
    ),
)
def test_letters_and_numbers_of_any_loads_stay_apart(loads, steps):
    points = [ChartPoint(label="x", front_kg=f, rear_kg=r) for f, r in loads]
    path = [ChartPoint(label="y", front_kg=f, rear_kg=r) for f, r in steps]

    assert crossing(axle_chart(points, LIMITS, path)) == []


@settings(max_examples=60, deadline=None)
@given(st.text(st.characters(codec="ascii", categories=("L", "N", "P", "Zs"))))
def test_words_never_need_more_room_than_reckoned(words):
    assert font("700").getlength(words) / 1000 <= text_width(words, 1.0) + 1e-9


def test_the_words_after_a_bar_begin_behind_it_and_behind_the_limit():
    root = ElementTree.fromstring(thirty_circuits())
    bars = [
        (
            float(r.get("x")) + float(r.get("width")),
            float(r.get("y")) + float(r.get("height")) / 2,
        )
        for r in root.iter(f"{SVG}rect")
        if r.get("height") in ("13", "20")
    ]
    said = [
        (float(t.get("x")), float(t.get("y")) - 4)
        for t in root.iter(f"{SVG}text")
        if t.get("text-anchor") is None
    ]
    assert len(bars) > 30
    for end, y in bars:
        beside = [x for x, at in said if abs(at - y) < 3]
        assert beside
        assert min(beside) > end


@pytest.mark.parametrize("draw", HARD.values(), ids=HARD.keys())
def test_a_chart_is_one_image_with_its_name_and_its_numbers_in_words(draw):
    root = ElementTree.fromstring(draw())

    assert root.get("role") == "img"
    assert root.get("aria-label") == root.find(f"{SVG}title").text
    assert f"{LONG} 2" in root.find(f"{SVG}desc").text  # whole, however it is drawn


@pytest.mark.parametrize("draw", [drop_chart, soc_chart, zone_chart])
def test_a_chart_of_nothing_is_refused(draw):
    with pytest.raises(ValueError, match="at least one"):
        draw([])


# What they show.


def test_the_path_is_a_line_of_numbered_marks_from_bare_to_loaded():
    path = [
        ChartPoint(label="As weighed", front_kg=1100, rear_kg=900),
        ChartPoint(label="Trailer on", front_kg=1050, rear_kg=1300),
    ]
    root = ElementTree.fromstring(axle_chart([], LIMITS, path))
    squares = [
        (float(r.get("x")) + 2.5, float(r.get("y")) + 2.5)
        for r in root.iter(f"{SVG}rect")
        if r.get("width") == "5"
    ]
    way = next(
        p.get("d")
        for p in root.iter(f"{SVG}path")
        if p.get("stroke-width") == "1.2" and "L" in p.get("d")
    )
    drawn = [tuple(map(float, pair.split())) for pair in way[1:].split("L")]

    assert squares == [pytest.approx(spot, abs=0.11) for spot in drawn]
    (bare_x, bare_y), (towed_x, towed_y) = squares
    assert towed_x < bare_x  # the ball takes weight off the front
    assert towed_y < bare_y  # and puts more on the rear, which is drawn higher
    said = texts(axle_chart([], LIMITS, path))
    assert said[said.index("Bare to loaded") + 1 :][:3] == [
        "1",
        "As weighed",
        "1,100 / 900",
    ]


def test_charge_falls_down_the_chart_and_its_lowest_hour_is_ringed():
    ratios = [1 - hour / 100 for hour in range(1, 31)] + [0.9] * 18
    drawing = soc_chart([ChargeLine(label="House", ratios=ratios, reserve_ratio=0.2)])
    root = ElementTree.fromstring(drawing)
    curve = next(
        p.get("d") for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "2"
    )
    spots = [tuple(map(float, pair.split())) for pair in curve[1:].split("L")]
    ring = next(root.iter(f"{SVG}circle"))

    assert len(spots) == 49  # full at the start, then after each hour of two days
    assert max(spots, key=lambda s: s[1]) == spots[30]
    assert (float(ring.get("cx")), float(ring.get("cy"))) == spots[30]
    assert {"House", "lowest 70 %, day 2", "reserve 20 %"} <= set(texts(drawing))


def test_nights_are_toned_as_long_as_they_last():
    def toned(daylight: float | None) -> list[tuple[float, float]]:
        drawing = soc_chart([ChargeLine(label="x", ratios=[1.0] * 48)], daylight)
        for path in ElementTree.fromstring(drawing).iter(f"{SVG}path"):
            if path.get("fill") is not None:
                edges = re.findall(r"M([\d.]+) [\d.]+H([\d.]+)", path.get("d"))
                return [(float(a), float(b)) for a, b in edges]
        return []

    nights = toned(16.0)
    assert len(nights) == 3  # before the first morning, between, after the last evening
    assert [round(b - a) for a, b in nights] == [round(h * 494 / 48) for h in (4, 8, 4)]
    assert toned(24.0) == []
    assert toned(None) == []
    unsaid = soc_chart([ChargeLine(label="x", ratios=[1.0])], None)
    assert "nights not drawn: latitude or month unknown" in texts(unsaid)


def test_batteries_are_told_apart_without_colour():
    root = ElementTree.fromstring(three_batteries(2))
    curves = [
        p.get("stroke-dasharray")
        for p in root.iter(f"{SVG}path")
        if p.get("stroke-width") == "2" and p.get("d").count("L") > 10
    ]

    assert len(curves) == len(set(curves)) == 3


def test_reserves_that_differ_name_their_batteries():
    lines = [
        ChargeLine(label=name, ratios=[0.9] * 24, reserve_ratio=reserve)
        for name, reserve in (("House", 0.2), ("Camper", 0.5))
    ]
    said = texts(soc_chart(lines))

    assert said[said.index("reserve 20 %") + 1] == "House"
    assert said[said.index("reserve 50 %") + 1] == "Camper"


def drop(key: str, percent: float | None, limit: float | None, verdict="within"):
    return DropBar(
        key=key, label=key, drop_percent=percent, limit_percent=limit, verdict=verdict
    )


def test_what_uses_most_of_its_limit_comes_first_and_what_is_not_known_last():
    bars = [
        drop("unknown", None, 3, "unknown"),
        drop("no limit", 9, None),
        drop("half", 5, 10),
        drop("over", 3.3, 3, "over"),
        drop("nearly", 4.5, 5),
    ]

    assert [b.key for b in in_order(bars)] == [
        "over",
        "nearly",
        "half",
        "no limit",
        "unknown",
    ]
    said = texts(drop_chart(bars))
    assert "3.3 % of 3.0 %  ✕ over" in said
    assert "9.0 %, no limit of its own" in said
    assert said[said.index("unknown") + 1] == "not known"


def test_a_drop_just_over_its_limit_is_not_rounded_onto_it():
    said = texts(drop_chart([drop("x", 3.0201, 3, "over"), drop("y", 3, 3)]))

    assert "3.02 % of 3.00 %  ✕ over" in said
    assert "3.0 % of 3.0 %  ✓ within" in said


def test_a_load_that_cannot_be_supplied_says_so():
    assert "✕ over, cannot be supplied" in texts(
        drop_chart([drop("x", None, 3, "over")])
    )


def test_verdicts_of_bars_differ_in_black_and_white():
    def look(verdict: str) -> tuple[bool, bool]:
        drawing = drop_chart([drop("x", 2, 3, verdict)])
        root = ElementTree.fromstring(drawing)
        solid = any(
            r.get("height") == "13" and r.get("fill") == "#1d1a16"
            for r in root.iter(f"{SVG}rect")
        )
        hatched = any(p.get("stroke-width") == "0.8" for p in root.iter(f"{SVG}path"))
        return solid, hatched

    looks = [look(v) for v in ("within", "not proven", "over")]
    assert looks == [(False, False), (False, True), (True, False)]


def test_one_wild_drop_does_not_flatten_the_others():
    """A bar that runs past the scale is broken off; the others keep their length."""
    drawing = drop_chart([drop("ok", 1.5, 3), drop("wild", 300, 3, "over")])
    wide = [
        float(r.get("width"))
        for r in ElementTree.fromstring(drawing).iter(f"{SVG}rect")
        if r.get("height") == "13"
    ]

    assert min(wide) > 50
    assert "300.0 % of 3.0 %  ✕ over" in texts(drawing)


def test_fitted_mass_runs_right_and_removed_mass_left_to_one_scale():
    drawing = zone_chart(
        [
            ZoneBar(label="Front", fitted_kg=80, removed_kg=20),
            ZoneBar(label="Rear", fitted_kg=40, unweighed=2),
            ZoneBar(label="Roof", fitted_kg=0, unweighed=3),
        ]
    )
    right, left, rear = [
        (float(r.get("x")), float(r.get("width")))
        for r in ElementTree.fromstring(drawing).iter(f"{SVG}rect")
    ]
    assert left[0] + left[1] == pytest.approx(right[0], abs=0.2)
    assert right[1] == pytest.approx(4 * left[1], rel=0.01)
    assert right[1] == pytest.approx(2 * rear[1], rel=0.01)
    said = texts(drawing)
    assert {"−20.0", "80.0", "40.0; 2 without a mass", "3 without a mass"} <= set(said)
    assert said[-1] == "Together 120.0 kg fitted, 20.0 kg taken off: +100.0 kg"


def test_words_are_cut_to_the_room_there_is():
    assert fit("short", 100, 12) == "short"
    assert fit("W" * 50, 60, 12) == "WWW…"
    first, second = fit_lines("Second battery in the canopy", 90, 12, 2)
    assert first == "Second"
    assert second.startswith("battery in")
    assert second.endswith("…")
    assert text_width(second, 12) <= 90
    assert figure(-0.04, 1) == "0.0"
    assert figure(-1234.5) == "−1,234"


def test_labels_along_a_margin_keep_their_order_and_their_distance():
    assert spread([50, 51, 52], 10, 0, 100) == [50, 60, 70]
    assert spread([99, 98], 10, 0, 100) == [100, 90]
    assert spread([-5, 40], 10, 0, 100) == [0, 40]


# What they are drawn from.


@pytest.fixture
def demo(db: None) -> BuildJob:
    scenario.load()
    return BuildJob.objects.get(title="River survey ute")


def results_of(build: BuildJob) -> Results:
    return report_of(build=build).results


def test_every_number_of_the_answer_reaches_its_chart(demo: BuildJob):
    results, items, circuits = results_of(demo), items_of(demo), circuits_of(demo)

    path = axle_path(results)
    assert [p.label for p in path][0::5] == ["Bare, tanks empty", "Trailer on"]
    assert path[-1].rear_kg == results["load"]["scenarios"]["use"]["rear_kg"]

    [line] = charge_lines(results, items)
    battery = next(item for item in items if item.supply_role == "battery")
    assert line.label == battery.label
    assert len(line.ratios) == 24 * demo.days
    assert min(line.ratios) == results["power"]["soc"]["minimum_ratio"]
    assert line.reserve_ratio == pytest.approx(0.2)
    assert 9 < daylight_h(demo) < 15

    bars = {bar.key: bar for bar in drop_bars(results, circuits)}
    assert bars.keys() == results["power"]["circuits"].keys()
    assert bars["fridge-45-l"].verdict == "over"

    zones = zone_bars(results)
    assert [z.label for z in zones][:2] == ["Front", "Under the bonnet"]
    fitted = sum(z.fitted_kg - z.removed_kg for z in zones)
    gained = path[1].front_kg + path[1].rear_kg - path[0].front_kg - path[0].rear_kg
    assert fitted == pytest.approx(gained)


def test_the_word_at_a_bar_is_that_of_the_drop_alone(demo: BuildJob):
    """A circuit whose fuse is over, but whose drop is not, is within on this chart."""
    results, circuits = results_of(demo), circuits_of(demo)
    key = circuits[1].key
    results["power"]["circuits"][key]["verdict"] = "over"

    bars = {bar.key: bar for bar in drop_bars(results, circuits)}
    assert bars[key].verdict == "within"


def test_each_battery_has_its_own_reserve_however_the_answer_is_ordered(db):
    """PostgreSQL keeps the names of an answer in an order of its own."""
    build = BuildJobFactory(days=2, ambient_c=25, drive_h_per_day=1)
    for name, chemistry in (("House", "lfp"), ("Camper", "agm")):
        facts = {"role": "battery", "chemistry": chemistry, "capacity_ah": 90}
        LineItemFactory(
            build=build, part=PartTypeFactory(battery=True, name=name, supply=facts)
        )
    results, items = results_of(build), items_of(build)
    batteries = results["power"]["batteries"]
    assert len(batteries) == 2

    def reserves() -> dict[str, float]:
        lines = charge_lines(results, items)
        return {line.label: line.reserve_ratio for line in lines}

    first = reserves()
    results["power"]["batteries"] = dict(reversed(batteries.items()))
    assert first == reserves() == pytest.approx({"House": 0.2, "Camper": 0.5})


def test_an_answer_without_path_and_zones_still_gives_charts(demo: BuildJob):
    results = results_of(demo)
    for name in ("path", "zones"):
        results["load"].pop(name)
    results["power"].pop("batteries")
    found = charts_of(demo, results, items_of(demo), circuits_of(demo))

    drawn = {chart.key: bool(chart.drawing) for chart in found}
    assert drawn == {"axles": True, "charge": False, "drop": True, "zones": False}


# Their page.


def page_of(client: Client, build: BuildJob) -> str:
    return client.get(reverse("charts", args=[build.pk])).content.decode()


def test_the_page_has_each_chart_and_its_numbers_as_a_table(
    office: Client, demo: BuildJob
):
    page = page_of(office, demo)
    sections = re.findall(r'<section class="chart".*?</section>', page, re.DOTALL)

    assert len(sections) == 4
    for section in sections:
        assert section.count('<svg xmlns="http://www.w3.org/2000/svg"') == 1
        assert section.count("<details>") == section.count("<table") == 1
    axles, charge, drops, zones = sections
    assert re.search(r"Trailer on</th><td class=\"num\">1,332", axles)
    assert charge.count('<tr><th scope="row">Second battery') == demo.days
    assert drops.count('<tr><th scope="row">') == len(circuits_of(demo))
    assert drops.index("Fridge 45 L</th>") < drops.index("Rear work lamps, pair</th>")
    assert re.search(r"Underneath</th>.*\+67\.8", zones)


def test_a_fitter_sees_the_charts_and_is_led_there(demo: BuildJob, shop: Client):
    build_page = shop.get(demo.get_absolute_url()).content.decode()
    assert f'href="{reverse("charts", args=[demo.pk])}"' in build_page

    assert page_of(shop, demo).count("<svg xmlns=") == 4


def test_what_is_missing_is_said_with_the_place_to_enter_it(
    office: Client, shop: Client
):
    vehicle = VehicleFactory(base_front_kg=None, base_rear_kg=None)
    build = BuildJobFactory(vehicle=vehicle)
    page = page_of(office, build)

    assert "<svg xmlns=" not in page
    for said, href in (
        ("The axle loads are not known", reverse("vehicle-edit", args=[vehicle.pk])),
        ("no second battery", f"{build.get_absolute_url()}#add"),
        ("No circuits yet.", reverse("circuit-new", args=[build.pk])),
        ("Nothing is fitted yet.", f"{build.get_absolute_url()}#add"),
    ):
        assert re.search(f'{said}[^<]*<a href="{href}">', page), said
    to_fitter = page_of(shop, build)
    assert "Nothing is fitted yet." in to_fitter
    assert reverse("circuit-new", args=[build.pk]) not in to_fitter


def test_people_not_said_lead_to_the_use(office: Client):
    build = BuildJobFactory(people=None)

    assert re.search(
        f'say how many people[^<]*<a href="{reverse("build-edit", args=[build.pk])}">',
        page_of(office, build),
    )


def test_a_battery_whose_days_are_not_known_says_what_to_enter(office: Client):
    build = BuildJobFactory(days=None)
    LineItemFactory(build=build, part=PartTypeFactory(battery=True))
    page = html.unescape(page_of(office, build))

    assert re.search(
        r"Aux battery 100\. The lowest charge is not known yet: enter [^<]*days"
        f'[^<]*<a href="{reverse("build-edit", args=[build.pk])}">',
        page,
    )


def test_items_without_mass_and_circuits_without_cable_are_counted_and_led_to(
    office: Client,
):
    build = BuildJobFactory()
    LineItemFactory(build=build, part=PartTypeFactory(mass_kg=None))
    lamps = LineItemFactory(
        build=build, part=PartTypeFactory(lamps=True, area_mm2=None)
    )
    page = page_of(office, build)

    assert "1 item has no mass on record." in page
    edit = reverse("circuit-edit", args=[build.pk, lamps.circuit.pk])
    assert f'<a href="{edit}">{lamps.circuit.label}</a>' in page
    assert ">not known</text>" in page


def test_a_closed_build_shows_its_charts_without_leading_to_forms(
    office: Client, demo: BuildJob
):
    BuildJob.objects.filter(pk=demo.pk).update(stage=Stage.HANDED_OVER)
    page = page_of(office, demo)

    assert page.count("<svg xmlns=") == 4
    assert "/edit/" not in page


def test_the_pack_prints_each_chart_beside_its_numbers(demo: BuildJob):
    page = pack_html(demo, final=False)

    for section, title in (
        ("supply", "Voltage drop of each circuit against its limit"),
        ("power", "State of charge over the days away"),
        ("load", "Axle loads against their limits"),
        ("load", "Mass fitted and taken off by zone"),
    ):
        part = page.partition(f'<section id="{section}">')[2].partition("</section>")[0]
        assert f'aria-label="{title}"' in part


@pytest.mark.django_db
def test_a_bare_pack_prints_no_empty_frames():
    build = BuildJobFactory(
        vehicle=VehicleFactory(base_front_kg=None, base_rear_kg=None)
    )
    page = pack_html(build, final=False)

    assert page.count('<div class="drawing">') == 2  # the vehicle and its dash
    assert "by zone" not in page
