"""A mail server of our own for tests: it speaks as RFC 5321 has it and answers each step as a test says."""

from __future__ import annotations

import socket
import threading
from dataclasses import dataclass, field


@dataclass
class MailServer:
    """``answers`` by command, such as ``{"RCPT": "550 no such user"}``; "hang up" breaks the line there.

    ``taken`` are the messages that it said 250 to, as they came.
    """

    answers: dict[str, str] = field(default_factory=dict)
    taken: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def __enter__(self) -> MailServer:
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port = self._door.getsockname()[1]
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        with socket.create_connection(("127.0.0.1", self.port)):
            self._end = True
        self._door.close()
        self._thread.join(timeout=10)

    _end = False

    def _serve(self) -> None:
        while True:
            try:
                line, _ = self._door.accept()
            except OSError:
                return
            with line, line.makefile("rwb") as both:
                try:
                    self._speak(both)
                except OSError:
                    pass
            if self._end:
                return

    def _speak(self, both) -> None:
        def say(words: str) -> None:
            both.write(words.encode() + b"\r\n")
            both.flush()

        say("220 mail.example ready")
        while told := both.readline().decode():
            command = told[:4].strip().upper()
            self.asked.append(command)
            answer = self.answers.get(command, "")
            if answer == "hang up":
                return
            if command == "DATA" and not answer:
                say("354 go on")
                message = ""
                while (row := both.readline().decode()) not in (".\r\n", ""):
                    message += row
                if self.answers.get("END") == "hang up":
                    self.taken.append(message)
                    return
                self.taken.append(message)
                say(self.answers.get("END", "250 taken"))
            elif command == "QUIT":
                say("221 bye")
                return
            else:
                say(answer or "250 well")
