#!/usr/bin/python3
"""A small controller in another process, over Modbus TCP (Debian package python3-pymodbus).

    modbus_controller.py HOST PORT REGISTERS.csv

It keeps a hot stack hot, makes the oxygen that is asked for and stops when a reading is lost. It shows how the
registers are used and is no advice for a plant. REGISTERS.csv is docs/reference/registers.csv.
"""
import csv, math, struct, sys, zlib

from pymodbus.client import ModbusTcpClient

host, port, path = sys.argv[1:4]
text = open(path, newline="").read()
rows = list(csv.DictReader(text.splitlines()))
address = {(row["table"], row["name"]): int(row["address"]) for row in rows}
whole = {(row["table"], row["name"]) for row in rows if row["type"] == "uint32"}
last = max(int(row["address"]) for row in rows if row["table"] == "input") + 2

client = ModbusTcpClient(host, port=int(port))
client.connect()
client.write_registers(0, struct.unpack(">2H", struct.pack(">I", zlib.crc32(text.encode()))))  # made for this map


def read():
    """All input registers as {name: number}."""
    words = []
    while len(words) < last:
        words += client.read_input_registers(len(words), min(last - len(words), 120)).registers
    packed = struct.pack(f">{last}H", *words)
    return {name: struct.unpack_from(">I" if (table, name) in whole else ">f", packed, 2 * at)[0]
            for (table, name), at in address.items() if table == "input"}


def limited(x, lower, upper):
    return min(max(x, lower), upper)


heat, current, tick = 25.0, None, None
while True:
    try:
        y = read()
    except AttributeError:  # the plant has ended the run
        break
    if y["tick"] == tick:
        continue  # the plant is still at work
    tick = y["tick"]
    zones = [y[f"zone_temperature {k}"] for k in range(1, 6)]
    out = dict.fromkeys((name for table, name in address if table == "holding"), 0.0)
    out.update(mode=5)  # safe, everything off
    if all(map(math.isfinite, zones + [y["feed_flow"], y["stack_current"]])) and y["requested_mode"] == 3:
        if current is None:
            current = y["stack_current"]
        asked = y["oxygen_demand"] * 4 * 96485 / (0.0319988 * 8)  # A, Faraday's law for eight cells
        current += limited(asked - current, -0.02, 0.02)
        density = y["ambient_pressure"] * 0.0435 / (8.314463 * y["ambient_temperature"])  # kg/m3
        feed = 0.044 * 8 * asked / (2 * 96485 * 0.55)  # kg/s, for a utilisation of 55 %
        speed = limited(y["compressor_speed"] + 2e4 * (feed - y["feed_flow"]) / density * 1e-2, 60, 600)
        cold = 1073.15 - sum(zones) / 5
        heat = limited(heat + cold / 600, 0, 60)
        out.update(mode=3, stack_current=current, compressor_speed=speed, recycle_opening=0.3,
                   preheater_power=limited(1073.15 - y["preheater_temperature"], 0, 40))
        for end in ("1", "2"):
            out[f"end_power {end}"] = limited(heat + 2 * cold, 0, 60)
    out.update(map_version=zlib.crc32(text.encode()), answered_tick=tick, arm=0x41524D31)
    packed = b"".join(struct.pack(">I", int(out[name])) if (table, name) in whole else struct.pack(">f", out[name])
                      for table, name in sorted(address, key=address.get) if table == "holding")
    client.write_registers(0, struct.unpack(f">{len(packed) // 2}H", packed))
