"""How gunicorn serves a site of many schools: `.venv/bin/gunicorn --config deploy/gunicorn.conf.py`."""

import json
import logging
import mmap
import os
import signal
import threading
import time
import traceback
from datetime import UTC, datetime

from gunicorn.glogging import Logger

wsgi_app = "fleet.wsgi"
bind = "127.0.0.1:8001"
workers = max(2, os.cpu_count() or 2)
# A photograph over a slow telephone holds a thread, not the worker: with one thread each, as many slow uploads as there
# are workers stop the site for everybody.
threads = 8
# A worker that is told to stop ends what it has begun first.
graceful_timeout = 60
# Only the proxy on this machine may say who asks and by what.
forwarded_allow_ips = "127.0.0.1"
# Nobody gives it orders while it runs, and two sites on one machine would make the socket for them at one place.
control_socket_disable = True


# gunicorn tells the old workers to stop as soon as it has begun new ones, which first read all of the code: until then
# nobody would answer. So an old one goes on until a new one serves, or for so many seconds.
LONGEST_START = 40


def turns_of(server):
    """Two bytes that all workers see: the turn of those begun last, and of those that serve. HUP begins another."""
    if not hasattr(server, "turns"):
        server.turns = mmap.mmap(-1, 2)
    return server.turns


def on_reload(server):
    turns = turns_of(server)
    turns[0] = (turns[0] + 1) % 256


def pre_fork(server, worker):
    worker.turns = turns_of(server)
    worker.turn = worker.turns[0]


def post_worker_init(worker):
    def told_to_stop(*told):
        threading.Thread(target=leave, args=(worker, *told), daemon=True).start()

    worker.turns[1] = worker.turn
    worker.log.info("Worker serves (pid: %s)", worker.pid)
    signal.signal(signal.SIGTERM, told_to_stop)


def leave(worker, *told):
    until = time.monotonic() + LONGEST_START
    while worker.turns[0] not in (worker.turn, worker.turns[1]) and time.monotonic() < until:
        time.sleep(0.05)
    worker.handle_exit(*told)


class InJson(logging.Formatter):
    """Its own lines as the site's. Nothing of the site is imported: the first process would hold it over an update."""

    def format(self, record):
        words = str(record.msg)
        # What was asked for is nobody's to read in a log.
        said = words if "request" in words.lower() else record.getMessage()
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        told = {"at": at, "level": record.levelname.lower(), "logger": record.name, "request": "", "said": said.strip()}
        if record.exc_info and record.exc_info[0]:
            kind, _, where = record.exc_info
            frames = [f"{one.filename}:{one.lineno} {one.name}" for one in traceback.extract_tb(where)]
            told["trouble"] = [f"{kind.__module__}.{kind.__qualname__}", *frames]
        return json.dumps(told, ensure_ascii=False)


class Lines(Logger):
    def setup(self, cfg):
        super().setup(cfg)
        for handler in self.error_log.handlers:
            handler.setFormatter(InJson())


logger_class = Lines
