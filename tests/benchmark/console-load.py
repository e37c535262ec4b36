#!/usr/bin/env python3
"""Readers of a training console at ten frames a second: processor time, memory, frames that each one got.

    tests/benchmark/console-load.py [PROGRAM [READERS [SECONDS]]]     (default build/release/duskline 20 600)

One reader more stands still: it never reads. Needs nothing but Python; run by hand, it judges nothing.
"""
import http.client
import json
import os
import socket
import subprocess
import sys
import threading
import time

PROGRAM = sys.argv[1] if len(sys.argv) > 1 else "build/release/duskline"
READERS = int(sys.argv[2]) if len(sys.argv) > 2 else 20
SECONDS = float(sys.argv[3]) if len(sys.argv) > 3 else 600.0
TICKS = os.sysconf("SC_CLK_TCK")


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def stream(port):
    s = socket.create_connection(("127.0.0.1", port))
    s.sendall(f"GET /api/stream HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
    return s


def read(port, until, frames, number):
    s = stream(port)
    s.settimeout(1.0)
    while time.monotonic() < until:
        try:
            bytes_ = s.recv(1 << 16)
        except socket.timeout:
            continue
        if not bytes_:
            return
        frames[number] += bytes_.count(b"event: frame")


def usage(pid):
    with open(f"/proc/{pid}/stat") as f:
        fields = f.read().rsplit(")", 1)[1].split()
    with open(f"/proc/{pid}/statm") as f:
        resident = int(f.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
    return (int(fields[11]) + int(fields[12])) / TICKS, resident


port = free_port()
server = subprocess.Popen([PROGRAM, "train", "dawn-dusk/equinox-sol", "--port", str(port), "--speed", "20", "--quiet"])
time.sleep(2)
connection = http.client.HTTPConnection("127.0.0.1", port)
connection.request("POST", "/api/instructor", json.dumps({"act": "go"}),
                   {"Content-Type": "application/json", "X-Duskline": "1", "Cookie": f"duskline_{port}=instructor"})
assert connection.getresponse().status == 200
still = stream(port)
frames = [0] * READERS
until = time.monotonic() + SECONDS
threads = [threading.Thread(target=read, args=(port, until, frames, n)) for n in range(READERS)]
for t in threads:
    t.start()
time.sleep(SECONDS / 10)
cpu, memory = usage(server.pid)
begin = time.monotonic()
for t in threads:
    t.join()
cpu_end, memory_end = usage(server.pid)
print(f"{READERS} readers and one that stands still, {SECONDS:.0f} s at 20 times real time")
print(f"processor   {(cpu_end - cpu) / (time.monotonic() - begin):.3f} of one core")
print(f"memory      {memory:.1f} MB after a tenth of the time, {memory_end:.1f} MB at its end")
print(f"frames      {min(frames) / SECONDS:.2f} to {max(frames) / SECONDS:.2f} a second and reader")
server.terminate()
server.wait()
still.close()
