"""Check every seal over the trail."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from caseload.reads.proof import prove
from caseload.wording.trail import say_fault, say_proof


class Command(BaseCommand):
    help = """Check every block of the trail, and each row in it, against its seal, and each seal against the one
    before. Names the first block and row that do not fit, with exit status 1. Whoever can write to the database could
    seal it anew or cut its end off: numbers and digests that were kept elsewhere (each stands in the log when it is
    sealed) show that too.
    Example: python manage.py verify_trail --expect 812:DIGEST"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        known = "a block's number and digest as the log named them; may be given several times"
        parser.add_argument("--expect", action="append", default=[], metavar="N:DIGEST", help=known)

    def handle(self, *args: Any, expect: list[str], **options: Any) -> None:
        proof = prove(dict(_read(said) for said in expect))
        self.stdout.write(say_proof(proof))
        if fault := proof.first:
            self.stdout.write(say_fault(fault))
            raise SystemExit(1)


def _read(said: str) -> tuple[int, str]:
    number, _, digest = said.partition(":")
    if not number.isdecimal() or len(digest) != 64:
        raise CommandError(f"“{said}” is not a block's number, a colon and the 64 digits of its digest.")
    return int(number), digest.lower()
