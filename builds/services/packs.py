"""Packs: asked for in a request, made outside it, kept as they were made."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from builds.handover import pack_digest, pack_html, render_pdf
from builds.models import BuildJob, Pack, PackState, Stage
from builds.services.coverage import coverage_gaps
from workshop.models import Person
from workshop.saving import save_clean

LEASE = timedelta(minutes=3)
"""A worker that was killed must not leave its pack "being made" for ever."""

FINAL_STAGES = (Stage.RELEASED, Stage.HANDED_OVER)


def pack_path(pack: Pack) -> Path:
    return Path(settings.PACK_DIR) / f"{pack.build.number}-{pack.revision}.pdf"


@transaction.atomic
def ask_pack(*, build: BuildJob, by: Person, final: bool) -> Pack:
    """Ask for a pack; the same record is never laid out twice."""
    if final:
        if gaps := coverage_gaps(build=build):
            raise ValidationError([gap.sentence for gap in gaps])
        if build.stage not in FINAL_STAGES:
            raise ValidationError(
                "The final pack is printed once the vehicle is released. "
                "Print a draft until then."
            )
    digest = pack_digest(build, final=final)
    same = build.packs.filter(digest=digest, final=final).exclude(
        state=PackState.FAILED
    )
    if pack := same.first():
        return _lay_out_again(pack) if _is_lost(pack) else revive(pack=pack)
    last = build.packs.select_for_update().first()
    pack = Pack(
        build=build,
        revision=last.revision + 1 if last else 1,
        final=final,
        digest=digest,
        asked_by=by,
        progress="Waiting for its turn",
    )
    save_clean(pack)
    transaction.on_commit(lambda: start_worker(pack))
    return pack


def revive(*, pack: Pack) -> Pack:
    """Start a pack again whose worker never began or died on the way."""
    now = timezone.now()
    stuck = Q(state=PackState.MAKING, lease_until__lt=now) | Q(
        state=PackState.WAITING, asked_at__lt=now - LEASE
    )
    if Pack.objects.filter(stuck, pk=pack.pk).update(
        state=PackState.WAITING, asked_at=now
    ):
        transaction.on_commit(lambda: start_worker(pack))
    return pack


def _is_lost(pack: Pack) -> bool:
    """A restored database may know packs whose files did not come with it."""
    return pack.state == PackState.READY and not pack_path(pack).exists()


def _lay_out_again(pack: Pack) -> Pack:
    pack.state, pack.asked_at = PackState.WAITING, timezone.now()
    transaction.on_commit(lambda: start_worker(pack))
    return save_clean(pack)


def start_worker(pack: Pack) -> None:
    """Lay the pack out in a process of its own, behind the job card in priority."""
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "workshop.settings"}
    subprocess.Popen(  # noqa: S603 - our own interpreter and script, a number as argument
        [sys.executable, "manage.py", "make_pack", str(pack.pk), "--gently"],
        cwd=settings.BASE_DIR,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def make_pack(*, pack: Pack) -> Pack:
    """Lay out one waiting pack and keep it; a second worker finds nothing to do."""
    taken = Pack.objects.filter(pk=pack.pk, state=PackState.WAITING).update(
        state=PackState.MAKING,
        lease_until=timezone.now() + LEASE,
        progress="Gathering the record",
    )
    pack.refresh_from_db()
    if not taken:
        return pack
    if pack.final and pack.build.stage not in FINAL_STAGES:
        pack.state = PackState.FAILED
        pack.problem = "The release was taken back before this pack was laid out."
        return save_clean(pack)
    try:
        # What is printed is the record of now, not that of the moment it was asked for.
        digest = pack_digest(pack.build, final=pack.final)
        html = pack_html(pack.build, final=pack.final, pack=pack)
        Pack.objects.filter(pk=pack.pk).update(
            progress="Laying out the pages", digest=digest
        )
        pdf = render_pdf(html)
        _keep(pdf, pack_path(pack))
    except Exception as error:
        Pack.objects.filter(pk=pack.pk).update(
            state=PackState.FAILED, problem=f"It could not be laid out: {error}"[:300]
        )
        raise
    Pack.objects.filter(pk=pack.pk).update(
        state=PackState.READY,
        progress="",
        problem="",
        made_at=timezone.now(),
        file_sha256=hashlib.sha256(pdf).hexdigest(),
    )
    pack.refresh_from_db()
    return pack


def _keep(pdf: bytes, path: Path) -> None:
    """Put the file in place whole: nobody opens half a pack."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(f".{os.getpid()}.part")
    part.write_bytes(pdf)
    part.replace(path)
