"""The commands that lint the rules and hold them against a record."""

import io
import json
import shutil

import pytest
from django.core.management import CommandError, call_command

from compliance.law.book import FOLDER
from tests.compliance.records import a_record


def run(*arguments, **options):
    out = io.StringIO()
    call_command(*arguments, stdout=out, **options)
    return out.getvalue()


@pytest.fixture
def folder(tmp_path):
    for name in ("facts.json", "kinds.json", "papers.json", "set.json"):
        shutil.copy(FOLDER / name, tmp_path / name)
    shutil.copytree(FOLDER / "rules", tmp_path / "rules")
    return tmp_path


def test_the_shipped_rules_are_without_fault():
    assert run("check_rules").startswith("130 rules, ")


def test_faults_are_told_one_a_line_and_exit_2(folder):
    path = folder / "rules" / "nz.json"
    text = path.read_text().replace("i.height_mm > 50", "i.heigth_mm > 50")
    path.write_text(text.replace("More than two main-beam", "Not legal: more than two"))

    with pytest.raises(CommandError) as caught:
        run("check_rules", str(folder))

    lines = str(caught.value).splitlines()
    assert caught.value.returncode == 2
    unknown = "rules/nz.json, NZ-SUS-001, column 1: unknown fact i.heigth_mm"
    assert lines[0] == unknown
    assert any(line.startswith("NZ-LGT-001: says 'legal'") for line in lines)


def test_a_kind_of_the_catalogue_must_be_in_the_table(folder):
    path = folder / "kinds.json"
    held = json.loads(path.read_text())
    del held["kinds"]["seat-covers"]
    path.write_text(json.dumps(held))

    with pytest.raises(CommandError, match="seat-covers: this kind of line item"):
        run("check_rules", str(folder))


def test_a_registry_that_cannot_be_read_exits_2(tmp_path):
    with pytest.raises(CommandError, match=r"facts\.json: cannot be read") as caught:
        run("check_rules", str(tmp_path))
    assert caught.value.returncode == 2


def test_law_of_a_record(tmp_path):
    path = tmp_path / "record.json"
    path.write_text(json.dumps(a_record()))
    more = tmp_path / "answers.json"
    more.write_text(json.dumps({"b.docs": [], "b.ground_clearance_mm": 190}))

    plain = json.loads(run("law", str(path), "--on", "2026-03-02"))
    both = json.loads(
        run(
            "law",
            str(path),
            "--on=2026-03-02",
            "--second=AU-NSW",
            f"--answers={more}",
        )
    )

    assert {f["jurisdiction"] for f in plain["findings"]} == {"AU-QLD"}
    assert {f["jurisdiction"] for f in both["findings"]} == {"AU-QLD", "AU-NSW"}
    asked = {q["fact"] for q in plain["questions"]}
    answered = {q["fact"] for q in both["questions"]}
    assert "b.ground_clearance_mm" in asked
    assert "b.ground_clearance_mm" not in answered


@pytest.mark.parametrize(
    ("record", "answers", "said"),
    [({"format": "x"}, {}, "vehicle"), (None, [], "object of facts")],
)
def test_bad_input_to_the_law_is_told(tmp_path, record, answers, said):
    path, more = tmp_path / "record.json", tmp_path / "answers.json"
    path.write_text(json.dumps(record or a_record()))
    more.write_text(json.dumps(answers))

    with pytest.raises(CommandError, match=said) as caught:
        run("law", str(path), "--on=2026-03-02", f"--answers={more}")
    assert caught.value.returncode == 2
