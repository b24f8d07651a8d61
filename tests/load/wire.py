"""HTTP/1.1 as a proxy speaks it to the site: few lines, kept open and shared. As little of it as is needed, to cost little."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field

PATIENCE_S = 20.0  # as a tablet's (static/site/sender.js)


class NoAnswerError(Exception):
    """Nobody answered, or not in time."""


@dataclass(frozen=True)
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes


@dataclass
class Wire:
    """Requests to one port; lines that are free are used again, as nginx keeps them with ``keepalive``."""

    port: int
    headers: dict[str, str]
    _free: list[tuple[asyncio.StreamReader, asyncio.StreamWriter]] = field(default_factory=list)

    async def ask(self, method: str, path: str, body: bytes, **headers: str) -> Answer:
        head = [f"{method} {path} HTTP/1.1"] + [f"{name}: {value}" for name, value in (self.headers | headers).items()]
        told = ("\r\n".join([*head, f"Content-Length: {len(body)}", "", ""])).encode() + body
        try:
            async with asyncio.timeout(PATIENCE_S):
                return await self._ask(told)
        except (OSError, asyncio.IncompleteReadError, TimeoutError, ValueError) as error:
            raise NoAnswerError(type(error).__name__) from error

    async def _ask(self, told: bytes) -> Answer:
        while self._free:
            line = self._free.pop()
            try:
                return await self._over(line, told)
            except (ConnectionError, asyncio.IncompleteReadError):
                line[1].close()  # the site ended it while it lay idle; nothing of an answer had come
        return await self._over(await asyncio.open_connection("127.0.0.1", self.port), told)

    async def _over(self, line: tuple[asyncio.StreamReader, asyncio.StreamWriter], told: bytes) -> Answer:
        reader, writer = line
        writer.write(told)
        first, *rest = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1").split("\r\n")
        headers = {name.lower(): value.strip() for name, _, value in (each.partition(":") for each in rest if each)}
        status = int(first.split(" ", 2)[1])
        body = b""
        if status != 304:
            if headers.get("transfer-encoding") == "chunked":
                body = await self._chunks(reader)
            else:
                body = await reader.readexactly(int(headers["content-length"]))
        if headers.get("connection", "").lower() == "close":
            writer.close()
        else:
            self._free.append(line)
        return Answer(status, headers, body)

    async def _chunks(self, reader: asyncio.StreamReader) -> bytes:
        parts = []
        while size := int(await reader.readuntil(b"\r\n"), 16):
            parts.append((await reader.readexactly(size + 2))[:-2])
        await reader.readexactly(2)
        return b"".join(parts)

    def close(self) -> None:
        for _, writer in self._free:
            writer.close()
