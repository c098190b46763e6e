from dataclasses import asdict
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.json_files import read_json, write_json
from builds.records import fault_lines
from compliance.assess import assess
from compliance.law import facts_of, judge, questions, rule_book
from compliance.record import RecordError, parse_record


class Command(BaseCommand):
    help = "Hold the rules against a build record; findings and questions as JSON."
    requires_system_checks: list[str] = []  # noqa: RUF012 - it needs no database

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("record", help="a JSON file, or - for standard input")
        parser.add_argument("--on", required=True, type=date.fromisoformat)
        parser.add_argument("--second", help="where it will be re-registered")
        parser.add_argument(
            "--answers", help='a JSON file of more facts, {"b.docs": [], ...}'
        )

    def handle(self, *args: Any, **options: Any) -> None:
        book = rule_book()
        answers = read_json(options["answers"]) if options["answers"] else {}
        if not isinstance(answers, dict):
            raise CommandError("answers must be an object of facts.", returncode=2)
        try:
            record = parse_record(read_json(options["record"]))
        except RecordError as error:
            raise CommandError(fault_lines(error), returncode=2) from error
        facts = facts_of(record, assess(record), book.registry, answers)
        place = record.jurisdiction or ""
        found = judge(facts, book, options["on"], place, options["second"])
        asked = [
            {
                "fact": question.fact.name,
                "subject": question.subject,
                "place": question.fact.place,
                "words": question.words,
                "why": question.why,
                "blocks": question.blocks,
            }
            for question in questions(found, book.registry)
        ]
        self.stdout.write(
            write_json({"findings": [asdict(f) for f in found], "questions": asked})
        )
