#!/usr/bin/env python3
"""Runs a walk by keyboard in a pseudo-terminal: tests/view.py LOADWALK

Checks that the full-screen view comes, takes typed answers, and gives the terminal back at the end of the
walk and at Ctrl-C; that `--plain` shows none; that nothing of a colour is written with NO_COLOR.
Needs only Python's standard library, on a system with pseudo-terminals."""

import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import tempfile
import termios
import time

ENTER, LEAVE = b"\x1b[?1049h", b"\x1b[?1049l"
ENDS_WITHIN = 60
ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))


class Walk:
    """A walk in a terminal of 80 by 24 cells."""

    def __init__(self, program, more):
        self.seen = b""
        self.folder = tempfile.TemporaryDirectory()
        arguments = [program, "walk", os.path.join(ROOT, "plans", "gravel-net.toml"), "--keys"]
        arguments += ["--inspector", "Ilse Brandt", "--rigger", "Oskar Venn"]
        arguments += ["--record", os.path.join(self.folder.name, "record"), *more]
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            # A job in the background hands on that it ignores Ctrl-C.
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            os.execve(program, arguments, {**os.environ, "NO_COLOR": "1", "TERM": "xterm"})
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))

    def read(self, seconds):
        """What comes within so many seconds; false once the program is gone."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if not select.select([self.fd], [], [], 0.05)[0]:
                continue
            try:
                data = os.read(self.fd, 65536)
            except OSError:
                return False
            if not data:
                return False
            self.seen += data
        return True

    def wait_for(self, sign):
        end = time.monotonic() + ENDS_WITHIN
        while sign not in self.seen:
            going_on = self.read(0.2) and time.monotonic() < end
            assert going_on or sign in self.seen, (sign, self.seen[-2000:])

    def type(self, keys):
        os.write(self.fd, keys)

    def echoes(self):
        """Whether the terminal echoes and takes lines, as a shell leaves it."""
        flags = termios.tcgetattr(self.fd)[3]
        return bool(flags & termios.ECHO) and bool(flags & termios.ICANON)

    def end(self):
        end = time.monotonic() + ENDS_WITHIN
        while self.read(0.2):
            assert time.monotonic() < end, self.seen[-2000:]
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


def main():
    program = os.path.abspath(sys.argv[1])

    walk = Walk(program, ["--view"])
    walk.wait_for(ENTER)
    walk.read(1.0)
    assert not walk.echoes(), "a view takes the keys one by one"
    walk.type(b"end the walk")
    walk.wait_for(b"end the walk")
    walk.type(b"\r")
    walk.read(1.0)
    walk.type(b"yes\r")
    code = walk.end()
    assert code == 1, code
    assert walk.seen.rindex(LEAVE) > walk.seen.rindex(ENTER)
    assert not re.search(rb"\x1b\[(?:[0-9]+;)*(?:3[0-7]|4[0-7]|38|48|9[0-7]|10[0-7])[;m]", walk.seen)
    assert b"record:" in walk.seen[walk.seen.rindex(LEAVE):]

    walk = Walk(program, ["--view"])
    walk.wait_for(ENTER)
    walk.read(1.0)
    walk.type(b"\x03")
    walk.wait_for(LEAVE)
    code = walk.end()
    assert code == 1 and b"loadwalk resume" in walk.seen, (code, walk.seen[-500:])

    walk = Walk(program, [])
    walk.wait_for(b"ASKS")
    assert walk.echoes() and ENTER not in walk.seen
    walk.type(b"\x03")
    walk.end()
    print("the view comes, takes answers, and gives the terminal back")


if __name__ == "__main__":
    main()
