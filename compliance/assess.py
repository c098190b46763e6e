"""Everything that is computed and judged of one build, in one answer."""

from collections.abc import Mapping
from typing import Any

from compliance.findings import VERDICT_ORDER, Finding
from compliance.inputs import BuildRecord
from compliance.load_checks import check_load
from compliance.power_checks import check_power
from compliance.record import parse_record
from compliance.switching import allot_switches, check_switching
from compliance.worksheets.fields import step_row

RULESET = "2026.3"
"""Changes whenever the same record may be judged otherwise than before."""

_SEVERITIES = ("stop", "check", "clear")


def calculate(data: Mapping[str, Any]) -> dict[str, Any]:
    """
    Read a build record and assess it.

    Parameters
    ----------
    data : Mapping
        The open build record as JSON gives it.

    Returns
    -------
    dict
        See ``assess``.

    Raises
    ------
    RecordError
        If the record cannot be read; it lists every fault with its path.
    """
    return assess(parse_record(data))


def assess(record: BuildRecord) -> dict[str, Any]:
    """
    Compute and judge a build.

    Parameters
    ----------
    record : BuildRecord
        The build; what is not recorded is ``None``.

    Returns
    -------
    dict
        ``ruleset``, ``load``, ``power``, ``switching`` and ``findings``, made of
        values that JSON can hold; findings most severe first. The same record always
        gives the same answer.
    """
    load, findings = check_load(record)
    power, judged = check_power(record)
    switches = allot_switches(record)
    findings = [*findings, *judged, *check_switching(record, switches)]
    findings.sort(key=_rank)
    return {
        "ruleset": RULESET,
        "load": load,
        "power": power,
        "switching": {
            "used": switches.used,
            "spare": switches.spare,
            "unplaced": list(switches.unplaced),
            "unanswered": list(switches.unanswered),
            "positions": {
                key: ", ".join(held) or None for key, held in switches.positions.items()
            },
        },
        "findings": [_finding_row(finding) for finding in findings],
    }


def _rank(finding: Finding) -> tuple[int, int, str]:
    return (
        _SEVERITIES.index(finding.severity),
        VERDICT_ORDER.index(finding.verdict),
        finding.key,
    )


def _finding_row(finding: Finding) -> dict[str, Any]:
    return {
        "key": finding.key,
        "severity": finding.severity,
        "subject": finding.subject,
        "verdict": finding.verdict,
        "value": finding.value,
        "limit": finding.limit,
        "unit": finding.unit,
        "sentence": finding.sentence,
        "source": finding.source,
        "would_clear": finding.would_clear,
        "working": [step_row(step) for step in finding.working],
    }
