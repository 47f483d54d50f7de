"""A small mail server for tests and drills: enough of SMTP (RFC 5321) to be delivered to, to refuse and to hang.

`python -m tests.mailbox --port 2525` serves until it is stopped and prints the Message-ID of each message it takes.
"""

import argparse
import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from typing import Any, NamedTuple

GREETING = "220 mailbox"
ORDINARY = {"EHLO": "250 mailbox", "HELO": "250 mailbox", "MAIL": "250 ok", "RCPT": "250 ok", "DATA": "354 go on",
            "RSET": "250 ok", "NOOP": "250 ok", "QUIT": "221 bye", ".": "250 taken"}  # fmt: skip
SILENCE = ""
"""Said instead of an answer: the server keeps the connection and never answers."""


class Delivered(NamedTuple):
    recipients: list[str]
    message: EmailMessage


class Mailbox(socketserver.ThreadingTCPServer):
    """`delivered` is what it took. `answers` are said instead of the ordinary ones, by their command: `{"RCPT": "550 no
    such mailbox"}`; `.` is the end of the message and `220` the greeting."""

    daemon_threads = allow_reuse_address = True
    block_on_close = False

    def __init__(self, port: int = 0, **answers: str) -> None:
        super().__init__(("127.0.0.1", port), Conversation)
        self.delivered: list[Delivered] = []
        self.answers = answers
        self.closing = threading.Event()

    @property
    def port(self) -> int:
        return int(self.server_address[1])

    @property
    def ids(self) -> list[str]:
        return [str(each.message["Message-ID"]) for each in self.delivered]

    def take(self, delivered: Delivered) -> None:
        self.delivered.append(delivered)


class Conversation(socketserver.StreamRequestHandler):
    server: Mailbox

    def handle(self) -> None:
        recipients: list[str] = []
        going = self.answer("220", GREETING)
        while going and (line := self.rfile.readline()):
            command = line[:4].decode("ascii", "replace").upper()
            if command == "RCPT":
                recipients.append(line.decode().partition("<")[2].partition(">")[0])
            going = self.answer(command, ORDINARY.get(command, "502 not known")) and command != "QUIT"
            if going and command == "DATA" and self.said.startswith("354"):
                going = self.take(recipients)

    def answer(self, command: str, ordinary: str) -> bool:
        """Say what is said to a command; false where nothing is: the other side waits until the server is closed."""
        self.said = self.server.answers.get(command, ordinary)
        if self.said == SILENCE:
            self.server.closing.wait()
            return False
        self.wfile.write(f"{self.said}\r\n".encode())
        return True

    def take(self, recipients: list[str]) -> bool:
        lines = []
        while (line := self.rfile.readline()) not in (b".\r\n", b""):
            lines.append(line.removeprefix(b"."))
        if self.server.answers.get(".", ORDINARY["."]).startswith("250"):
            message: Any = message_from_bytes(b"".join(lines), policy=default)
            self.server.take(Delivered(list(recipients), message))
        recipients.clear()
        return self.answer(".", ORDINARY["."])


@contextmanager
def mailbox(port: int = 0, **answers: str) -> Iterator[Mailbox]:
    """A server on the loopback address, on a free port unless one is given."""
    with Mailbox(port, **answers) as server:
        serving = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
        serving.start()
        try:
            yield server
        finally:
            server.closing.set()
            server.shutdown()
            serving.join()


class Telling(Mailbox):
    def take(self, delivered: Delivered) -> None:
        super().take(delivered)
        print(delivered.message["Message-ID"], flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--port", type=int, default=2525)
    Telling(parser.parse_args().port).serve_forever()
