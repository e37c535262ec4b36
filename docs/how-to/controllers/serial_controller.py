#!/usr/bin/python3
"""A small controller in another process, over frames on a serial line (Python's own library is enough).

    serial_controller.py DEVICE|tcp:PORT REGISTERS.csv

The control law is in hot_stack.py beside it. REGISTERS.csv is docs/reference/registers.csv: its rows are the members of
ctl_inputs and the commands of ctl_outputs in their order (controller/include/controller.h).
"""
import csv, os, socket, struct, sys, tty, zlib

from hot_stack import HotStack

names = {table: [row["name"] for row in csv.DictReader(open(sys.argv[2])) if row["table"] == table]
         for table in ("input", "holding")}
# floats; whole numbers follow, the requested mode first, tick last
readings = names["input"][4:-1] + ["shelve_time", "inlet_co_fraction"]
commands = names["holding"][3:-1]
VERSION = 9  # of the interface
MODE_FROM_END = 7 * 4 + 36 + 4  # bytes from `mode` to the end of ctl_outputs: words, alarm states, worst cell

if sys.argv[1].startswith("tcp:"):
    line = socket.create_server(("127.0.0.1", int(sys.argv[1][4:]))).accept()[0].detach()
else:
    line = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)
    tty.setraw(line)


def frames():
    """Whole frames as (kind, sequence, content)."""
    waiting = b""
    while True:
        got = os.read(line, 4096)
        if not got:
            return
        *whole, waiting = (waiting + got).split(b"\0")
        for stuffed in whole:
            raw = b""
            while stuffed:  # COBS: a length, that many bytes less one, a zero
                raw += stuffed[1:stuffed[0]] + (b"\0" if stuffed[0] < 255 else b"")
                stuffed = stuffed[stuffed[0]:]
            raw = raw[:-1] if raw.endswith(b"\0") else raw
            if len(raw) >= 10 and raw[0] == 1 and zlib.crc32(raw[:-4]) == int.from_bytes(raw[-4:], "little"):
                yield raw[1], raw[2:6], raw[6:-4]


def answer(kind, sequence, content):
    raw = bytes([1, kind | 128]) + sequence + content
    raw += zlib.crc32(raw).to_bytes(4, "little")
    wire = b"".join(bytes([len(part[k:k + 254]) + 1]) + part[k:k + 254]
                    for part in raw.split(b"\0") for k in range(0, len(part) + 1, 254))
    os.write(line, wire + b"\0")


law = HotStack()
for kind, sequence, content in frames():
    if kind == 1:  # hello: the plant's sizes; they are ours too if its readings have the size that we expect
        version, _, inputs, outputs, _ = struct.unpack("<5I", content)
        if (version, inputs) != (VERSION, 4 * (len(readings) + 6)):
            sys.exit("the plant speaks another version of the interface")
        answer(kind, sequence, content)
    elif kind == 3:  # step
        y = dict(zip(readings, struct.unpack_from(f"<{len(readings)}f", content)))
        y["requested_mode"] = struct.unpack_from("<I", content, 4 * len(readings))[0]
        out, made = bytearray(outputs), law.commands(y)
        struct.pack_into(f"<{len(commands)}f", out, 0, *(made.get(name, 0.0) for name in commands))
        struct.pack_into("<I", out, outputs - MODE_FROM_END, made["mode"])
        answer(kind, sequence, struct.pack("<I", 0) + out)
    elif kind == 5:  # stop
        break
    else:  # start, restart, arm: all well
        answer(kind, sequence, struct.pack("<I", 0))
