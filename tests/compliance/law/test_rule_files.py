"""Reading the rule files: what is refused, with file, rule and column."""

import copy
import json
import shutil
from datetime import date

import pytest

from compliance.law import LawError, stale
from compliance.law.book import FOLDER, read_book, rule_book
from compliance.law.lint import lint
from compliance.law.registry import read_registry
from compliance.law.rules import Parameter, Value, covers, read_rule


@pytest.fixture
def folder(tmp_path):
    for name in ("facts.json", "kinds.json", "papers.json", "set.json"):
        shutil.copy(FOLDER / name, tmp_path / name)
    (tmp_path / "rules").mkdir()
    shutil.copy(FOLDER / "rules" / "au-nsw.json", tmp_path / "rules")
    return tmp_path


def change(folder, name, edit):
    path = folder / name
    held = json.loads(path.read_text())
    edit(held)
    path.write_text(json.dumps(held))


def faults_after(folder, edit):
    change(folder, "rules/au-nsw.json", lambda held: edit(held["rules"][0]))
    return [str(fault) for fault in read_book(folder)[1]]


def test_the_shipped_files_read_without_a_fault():
    book, faults = read_book(FOLDER)

    assert faults == []
    assert rule_book().version == book.version
    assert rule_book() is rule_book()


def test_the_version_follows_the_bytes(folder):
    before = read_book(folder)[0].version
    faults_after(folder, lambda rule: rule.update(message="Another message."))
    after = read_book(folder)[0].version

    assert before != after
    assert before.split("+")[0] == after.split("+")[0]


def test_a_typo_in_a_predicate_is_told_with_file_rule_and_column(folder):
    rule = json.loads((folder / "rules/au-nsw.json").read_text())["rules"][0]

    said = faults_after(folder, lambda r: r.update(fails_when="b.nonsense > 3"))

    assert said == [
        f"rules/au-nsw.json, {rule['id']}, column 1: unknown fact b.nonsense"
    ]


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        ({"title": None}, "title is missing"),
        ({"titel": "x"}, "titel is no member"),
        ({"outcome": "maybe"}, "outcome must be one of"),
        ({"scope": "job"}, "scope must be one of"),
        ({"basis": "SEEN"}, "basis must be one of"),
        ({"confidence": "total"}, "confidence must be one of"),
        ({"papers": ["DOC-NONE"]}, "papers names DOC-NONE"),
        ({"papers": [["DOC-NONE"]]}, "papers must be a list of texts"),
        ({"read_in": ["XX"]}, "read_in names XX"),
        ({"not_in": ["XX"]}, "not_in names XX"),
        ({"in_force": {"from": None}}, "from and to"),
        ({"in_force": {"from": "soon", "to": None}}, "a month or a year"),
        ({"in_force": {"from": 2020, "to": None}}, "a month or a year"),
        ({"in_force": {"from": None, "to": "2020"}}, "in_force.to"),
        ({"in_force": {"from": "2021", "to": "2020-01-01"}}, "ends before"),
        ({"checked_on": "lately"}, "checked_on"),
        ({"source": {"document": "x"}}, "source must hold"),
        ({"parameters": []}, "parameters must be an object"),
        ({"parameters": {"x": 3}}, "parameter x must be an object"),
        ({"parameters": {"x": {"unit": "mm"}}}, "has no values"),
        ({"parameters": {"x": {"unit": "mm", "values": [3]}}}, "a value of"),
        (
            {"parameters": {"x": {"unit": "mm", "values": [{"in": "XX"}]}}},
            "parameter x names XX",
        ),
        (
            {"parameters": {"x": {"unit": "mm", "values": [{"in": "AU"}]}}},
            "holds None, which is no mm",
        ),
        (
            {
                "parameters": {
                    "x": {"unit": "date", "values": [{"in": "AU", "value": "2020"}]}
                }
            },
            "which is no date",
        ),
        ({"examples": [3]}, "an example must be an object"),
        ({"examples": [{"facts": {}}]}, "the answer to expect"),
        ({"examples": [{"expect": True}]}, "an example needs facts"),
        (
            {"examples": [{"facts": {}, "expect": True, "jurisdiction": "XX"}]},
            "an example names XX",
        ),
        (
            {
                "examples": [
                    {"facts": {}, "expect": True, "jurisdiction": "AU", "on": "x"}
                ]
            },
            "an example's day",
        ),
        ({"scope": "build", "fails_when": "i.secure == False"}, "the scope is build"),
    ],
)
def test_a_faulty_rule_is_refused_and_the_others_are_read(folder, edit, said):
    count = len(read_book(folder)[0].rules)

    faults = faults_after(folder, lambda rule: rule.update(edit))

    assert len(faults) == 1
    assert said in faults[0]
    assert len(read_book(folder)[0].rules) == count - 1


def test_an_id_is_used_once_and_a_rule_is_an_object(folder):
    def double(held):
        held["rules"].append(copy.deepcopy(held["rules"][0]))
        held["rules"].append("rule")

    change(folder, "rules/au-nsw.json", double)
    faults = [str(f) for f in read_book(folder)[1]]

    assert "already used" in faults[0]
    assert "named members" in faults[1]


def test_a_file_that_is_not_rules_is_told(folder):
    (folder / "rules" / "uk.json").write_text('{"rules": [}')
    (folder / "rules" / "xx.json").write_text('{"rules": [], "jurisdiction": "XX"}')
    (folder / "rules" / "yy.json").write_text("[]")
    (folder / "rules" / "zz.json").write_bytes(b"\xff\xfe\xff")
    said = [str(f) for f in read_book(folder)[1]]

    assert said[0].startswith("rules/uk.json, column 12: is not JSON: line 1")
    assert "a known jurisdiction" in said[1]
    assert "named members" in said[2]
    assert "cannot be read" in said[3]


@pytest.mark.parametrize(
    ("name", "edit", "said"),
    [
        ("set.json", lambda h: h.pop("version"), "version is missing"),
        ("set.json", lambda h: h.pop("cautions"), "cautions is missing"),
        ("set.json", lambda h: h["jurisdictions"].update(AU=""), "needs a text"),
        ("papers.json", lambda h: h["papers"].update(X="a"), "words and settles"),
        ("facts.json", lambda h: h["facts"].update(x=3), "a fact holds type"),
        ("facts.json", lambda h: h["facts"].update(x={"typ": 1}), "a fact holds"),
        ("facts.json", lambda h: h["facts"].update(x={"type": 1}), "type must be"),
        (
            "facts.json",
            lambda h: h["facts"].update(x={"type": "flag", "from": "me"}),
            "from must be",
        ),
        (
            "facts.json",
            lambda h: h["facts"].update(x={"type": "flag", "from": "core"}),
            "words are missing",
        ),
        (
            "facts.json",
            lambda h: h["facts"].update(
                x={"type": "number", "from": "core", "words": "w"}
            ),
            "a number has a unit",
        ),
        ("kinds.json", lambda h: h["kinds"].update(x={}), "types must be a list"),
        ("kinds.json", lambda h: h["kinds"].update(x={"types": []}), "why it has none"),
        (
            "kinds.json",
            lambda h: h["kinds"].update(x={"types": ["a"], "also": {"type": "b"}}),
            "also holds",
        ),
        (
            "kinds.json",
            lambda h: h["kinds"].update(
                x={
                    "types": ["a"],
                    "also": {"type": "b", "fact": "i.chemistry", "value": "lead"},
                }
            ),
            "a value nobody knows",
        ),
    ],
)
def test_a_faulty_registry_is_refused_whole(folder, name, edit, said):
    change(folder, name, edit)

    with pytest.raises(LawError, match=said) as caught:
        read_book(folder)
    assert caught.value.file == name


def test_faulty_rules_stop_the_start(folder, monkeypatch):
    faults_after(folder, lambda rule: rule.update(scope="job"))
    monkeypatch.setattr("compliance.law.book.FOLDER", folder)

    with pytest.raises(LawError, match="scope"):
        rule_book.__wrapped__()


def test_a_part_of_a_place_is_covered_by_it():
    assert covers("AU", "AU-QLD")
    assert covers("AU", "AU")
    assert not covers("AU-QLD", "AU")
    assert not covers("A", "AU")


def test_figures_go_from_the_most_specific_place_and_by_date():
    lift = rule_book().rules["AU-SUS-003"]

    def held(place, on):
        return lift.figures(place, on)["p.combined"].held

    assert held("AU-QLD", "2018-10-25") == 50
    assert held("AU-QLD", "2018-10-26") == 75
    assert held("AU-VIC", "2012-01-01") == 75
    assert held("AU-WA", "2026-01-01") == 50
    assert lift.figures("NZ", "2026-01-01") == {}


def test_a_rule_runs_from_its_day_to_its_day(folder):
    faults_after(
        folder, lambda r: r.update(in_force={"from": "2016-11", "to": "2020-06-30"})
    )
    rule = next(iter(read_book(folder)[0].rules.values()))

    assert not rule.in_force("2016-10-31")
    assert rule.in_force("2016-11-01")
    assert rule.in_force("2020-06-30")
    assert not rule.in_force("2020-07-01")


def test_a_rule_nobody_checked_lately_is_stale(folder):
    faults_after(folder, lambda rule: rule.update(checked_on="2026-01-01"))
    book = read_book(folder)[0]
    first, *others = book.rules

    assert stale(book, date(2026, 1, 31), 30) == tuple(others)
    assert stale(book, date(2026, 2, 1), 30) == tuple(book.rules)
    again = {first: date(2026, 2, 1), others[0]: date(2026, 1, 20)}
    assert stale(book, date(2026, 2, 1), 30, again) == tuple(others[1:])


def test_the_shipped_data_has_no_fault_left():
    assert lint(rule_book()) == []


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (lambda r: r.update(message="This makes it legal."), "says 'legal'"),
        (lambda r: r.update(title="A certified bar"), "says 'certified'"),
        (lambda r: r["examples"].pop(), "no example expects False"),
        (lambda r: r["examples"][0].update(jurisdiction="UK"), "where it is no rule"),
        (
            lambda r: r["examples"][0].update(expect=not r["examples"][0]["expect"]),
            "gives",
        ),
        (lambda r: r["examples"][0]["facts"].update({"b.total_kg": 1}), "does not ask"),
        (
            lambda r: r.update(
                parameters={
                    "idle": {"unit": "mm", "values": [{"in": "AU", "value": 1}]}
                }
            ),
            "parameter idle is not used",
        ),
        (lambda r: r.update(outcome="certify", papers=[]), "no paper that settles"),
        (lambda r: r.update(trigger=["spaceship"]), "no kind stands for it"),
    ],
)
def test_lint_tells_what_reading_lets_pass(folder, edit, said):
    before = lint(read_book(folder)[0])

    assert faults_after(folder, edit) == []

    new = set(lint(read_book(folder)[0])) - set(before)
    assert any(said in line for line in new)


def test_lint_leaves_to_others_what_others_certify(folder):
    before = lint(read_book(folder)[0])
    faults_after(folder, lambda r: r.update(message="Certified by its signatory."))

    assert lint(read_book(folder)[0]) == before


def test_lint_tells_of_idle_facts_and_kinds(folder):
    def add(held):
        held["facts"]["b.idle"] = {
            "type": "flag",
            "from": "core",
            "words": "Is it compliant?",
        }

    change(folder, "facts.json", add)
    change(
        folder,
        "kinds.json",
        lambda h: h["unmapped"].update(tyre="none", ghost="none"),
    )
    lines = lint(read_book(folder)[0], ["winch", "teapot"])

    assert "b.idle: no rule asks for this fact" in lines
    assert "b.idle: says 'compliant' as if the tool decided that" in lines
    assert "tyre: is mapped and said to be unmapped" in lines
    assert "ghost: no rule names this item type" in lines
    assert "teapot: this kind of line item is not in the table of kinds" in lines
    assert not any(line.startswith("winch: this kind") for line in lines)


JUNK = (None, 3, True, "x", [], {}, [3], [[]], {"a": 1}, {"a": {"values": 3}})


def with_junk(held):
    """Give copies of a JSON value, each with junk in one place of its first levels."""
    for name in held:
        for junk in JUNK:
            yield {**held, name: junk}
        if isinstance(held[name], dict):
            for inner in with_junk(held[name]):
                yield {**held, name: inner}
        elif isinstance(held[name], list):
            for junk in JUNK:
                yield {**held, name: [junk, *held[name][1:]]}


def test_junk_in_a_rule_is_read_or_refused():
    registry = rule_book().registry
    rows = json.loads((FOLDER / "rules" / "au.json").read_text())["rules"]
    row = next(r for r in rows if r["id"] == "AU-SUS-003")
    told = []
    for held in with_junk(row):
        try:
            read_rule(held, "AU", registry)
        except LawError as error:
            told.append(error.rule)

    assert len(told) > 100
    assert all(told)


def test_junk_in_a_registry_is_read_or_refused():
    sound = {
        name: json.loads((FOLDER / name).read_text())
        for name in ("facts.json", "kinds.json", "papers.json", "set.json")
    }
    small = copy.deepcopy(sound)
    small["facts.json"]["facts"] = {
        "i.chemistry": sound["facts.json"]["facts"]["i.chemistry"]
    }
    small["kinds.json"]["kinds"] = {
        "aux-battery": sound["kinds.json"]["kinds"]["aux-battery"]
    }
    small["papers.json"]["papers"] = {"DOC-PV": {"words": "x", "settles": True}}
    told = []
    for name, file in small.items():
        for held in with_junk(file):
            try:
                read_registry({**small, name: held})
            except LawError as error:
                told.append(error.file)

    assert len(told) > 100
    assert all(told)


def test_the_place_goes_before_the_date_of_a_figure():
    figure = Parameter(
        "mm",
        (
            Value("AU", 50.0, None),
            Value("AU", 60.0, "2024"),
            Value("AU-QLD", 75.0, "2018-10-26"),
        ),
    )

    assert figure.at("AU-QLD", "2025-01-01").held == 75
    assert figure.at("AU-WA", "2025-01-01").held == 60
    assert figure.at("AU-WA", "2023-12-31").held == 50
