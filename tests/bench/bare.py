"""The reference server: one table, group commit, one payload for all screens, and nothing else of Leadline.

``python -m tests.bench.bare PORT FILE``. POST /mark stores a row and answers after the commit, then tells the
screens; POST /tell only tells them; GET /live is a plain StreamingResponse of the same bytes for everybody.
"""

import asyncio
import queue
import sqlite3
import sys
import threading
from collections.abc import AsyncIterator, Callable

import uvicorn
from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, StreamingResponse

Done = Callable[[int], object]


class Bare:
    """What the two references need: a writer thread and the queues of the screens."""

    def __init__(self, file: str) -> None:
        self.jobs: queue.SimpleQueue[tuple[bytes, Done]] = queue.SimpleQueue()
        self.screens: set[asyncio.Queue[bytes]] = set()
        self.told = 0
        threading.Thread(target=self._write, args=(file,), daemon=True).start()

    def _write(self, file: str) -> None:
        connection = raw(file)
        seq = 0
        while True:
            batch = [self.jobs.get()]
            while not self.jobs.empty():
                batch.append(self.jobs.get())
            connection.execute("BEGIN IMMEDIATE")
            for body, _ in batch:
                connection.execute("INSERT INTO mark (body) VALUES (?)", (body,))
            connection.execute("COMMIT")
            for _, done in batch:
                seq += 1
                done(seq)

    async def stored(self, body: bytes) -> int:
        loop = asyncio.get_running_loop()
        future: asyncio.Future[int] = loop.create_future()
        self.jobs.put((body, lambda seq: loop.call_soon_threadsafe(future.set_result, seq)))
        return await future

    def tell(self, seq: int) -> None:
        payload = f'event: changed\nid: {seq}\ndata: {{"seq":{seq}}}\n\n'.encode()
        for screen in self.screens:
            screen.put_nowait(payload)

    async def stream(self) -> AsyncIterator[bytes]:
        screen: asyncio.Queue[bytes] = asyncio.Queue()
        self.screens.add(screen)
        yield b"event: tick\ndata: {}\n\n"
        try:
            while True:
                yield await screen.get()
        finally:
            self.screens.discard(screen)


def raw(file: str) -> sqlite3.Connection:
    """A connection as quick as it may be with every commit on disk: WAL and synchronous=FULL."""
    connection = sqlite3.connect(file, isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL").close()
    connection.execute("PRAGMA synchronous=FULL").close()
    connection.execute("CREATE TABLE IF NOT EXISTS mark (seq INTEGER PRIMARY KEY, body TEXT NOT NULL)")
    return connection


def application(file: str) -> FastAPI:
    bare = Bare(file)
    app = FastAPI(openapi_url=None)

    @app.get("/")
    async def home() -> JSONResponse:
        return JSONResponse({})

    @app.post("/mark")
    async def mark(request: Request) -> JSONResponse:
        seq = await bare.stored(await request.body())
        asyncio.get_running_loop().call_soon(bare.tell, seq)
        return JSONResponse({"seq": seq})

    @app.post("/tell")
    async def tell() -> JSONResponse:
        bare.told += 1
        asyncio.get_running_loop().call_soon(bare.tell, bare.told)
        return JSONResponse({"seq": bare.told})

    @app.get("/live")
    async def live() -> StreamingResponse:
        return StreamingResponse(bare.stream(), media_type="text/event-stream")

    return app


if __name__ == "__main__":
    uvicorn.run(application(sys.argv[2]), port=int(sys.argv[1]), access_log=False, log_level="warning")
