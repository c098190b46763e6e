import csv
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds import demo
from compliance.law.book import FOLDER, read_book
from compliance.law.lint import lint
from compliance.law.values import LawError

CATALOGUE = Path(demo.__file__).parent / "part_types.csv"


class Command(BaseCommand):
    help = "Look for faults in the rule data; one line each, exit 2 if there are any."
    requires_system_checks: list[str] = []  # noqa: RUF012 - it needs no database

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", nargs="?", type=Path, default=FOLDER)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            book, faults = read_book(options["folder"])
        except LawError as error:
            raise CommandError(str(error), returncode=2) from error
        with CATALOGUE.open(encoding="utf-8", newline="") as file:
            kinds = {row["kind"] for row in csv.DictReader(file)}
        lines = [*map(str, faults), *lint(book, kinds)]
        if lines:
            raise CommandError("\n".join(lines), returncode=2)
        examples = sum(len(rule.examples) for rule in book.rules.values())
        self.stdout.write(
            f"{len(book.rules)} rules, {examples} examples, "
            f"{len(book.registry.facts)} facts: rule set {book.version}."
        )
