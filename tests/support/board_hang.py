"""Makes a board in the emulator hang, through the emulator's debugger port, and lets it run on.

    board_hang.py SOCKET ADDRESS    ADDRESS (hex): code that does nothing for ever

Remote serial protocol of GDB: $text#checksum, answered by + and a packet.
"""
import socket
import sys


def ask(line, text, wanted):
    line.sendall(b"$%s#%02x" % (text, sum(text) % 256))
    got = b""
    while wanted not in got:
        more = line.recv(4096)
        if not more:
            sys.exit(f"the emulator ended after {text!r}")
        got += more
        line.sendall(b"+")


def main():
    address = int(sys.argv[2], 16) & ~1
    with socket.socket(socket.AF_UNIX) as line:
        line.settimeout(200)
        line.connect(sys.argv[1])
        ask(line, b"?", b"$T")  # the board stops while somebody is connected
        ask(line, b"qXfer:features:read:target.xml:0,40", b"$m")  # only then are single registers understood
        ask(line, b"Pf=%s" % address.to_bytes(4, "little").hex().encode(), b"$OK")
        line.sendall(b"$D#44")  # detach: the board runs on


main()
