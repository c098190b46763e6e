import os
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from builds.models import Pack
from builds.services.packs import make_pack


class Command(BaseCommand):
    help = "Lay out one handover pack that is waiting."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("pack_id", type=int)
        parser.add_argument(
            "--gently", action="store_true", help="Let the job card go first."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["gently"]:
            os.nice(15)
        pack = Pack.objects.filter(pk=options["pack_id"]).first()
        if pack is None:
            raise CommandError(f"There is no pack {options['pack_id']}.")
        make_pack(pack=pack)
