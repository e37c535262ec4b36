"""The control law of the two examples in Python: keeps a hot stack hot, makes the oxygen that is asked for, and stops
when a reading is lost. It shows how a link is used and is no advice for a plant.
"""
import math


def limited(x, lower, upper):
    return min(max(x, lower), upper)


class HotStack:
    def __init__(self):
        self.heat, self.current = 25.0, None

    def commands(self, y):
        """Commands and mode by name; what is not in it is 0. `y` holds the readings by name, SI units."""
        zones = [y[f"zone_temperature {k}"] for k in range(1, 6)]
        if y["requested_mode"] != 3 or not all(map(math.isfinite, zones + [y["feed_flow"], y["stack_current"]])):
            return {"mode": 5}  # safe, everything off
        if self.current is None:
            self.current = y["stack_current"]
        asked = y["oxygen_demand"] * 4 * 96485 / (0.0319988 * 8)  # A, Faraday's law for eight cells
        self.current += limited(asked - self.current, -0.02, 0.02)
        density = y["ambient_pressure"] * 0.0435 / (8.314463 * y["ambient_temperature"])  # kg/m3
        feed = 0.044 * 8 * asked / (2 * 96485 * 0.55)  # kg/s, for a utilisation of 55 %
        speed = limited(y["compressor_speed"] + 2e4 * (feed - y["feed_flow"]) / density * 1e-2, 60, 600)
        cold = 1073.15 - sum(zones) / 5
        self.heat = limited(self.heat + cold / 600, 0, 60)
        ends = {f"end_power {k}": limited(self.heat + 2 * cold, 0, 60) for k in (1, 2)}
        return {"mode": 3, "stack_current": self.current, "compressor_speed": speed, "recycle_opening": 0.3,
                "preheater_power": limited(1073.15 - y["preheater_temperature"], 0, 40), **ends}
