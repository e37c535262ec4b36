"""Steps a unit for co-simulation: written from the text of FMI 3.0 alone, with nothing of ours.

    fmi3_importer.py UNIT.fmu FOLDER COMMANDS READINGS

COMMANDS holds doubles, one row a step: the inputs in the order of the description. READINGS gets the outputs at the start
and after each step in the same way.
"""
import ctypes as c
import os, sys, pathlib, xml.etree.ElementTree as tree, zipfile

unit, folder, commands, readings = sys.argv[1:5]
zipfile.ZipFile(unit).extractall(folder)
description = tree.parse(f"{folder}/modelDescription.xml").getroot()
assert description.get("fmiVersion") == "3.0"
co = description.find("CoSimulation")
library = c.CDLL(f"{folder}/binaries/x86_64-linux/{co.get('modelIdentifier')}.so")
variables = [(v.get("causality"), v.tag, int(v.get("valueReference"))) for v in description.find("ModelVariables")]
assert sorted(r for cause, _, r in variables if cause == "output") == sorted(
    int(o.get("valueReference")) for o in description.find("ModelStructure").iter("Output"))
period = float(description.find("DefaultExperiment").get("stepSize"))
assert period == float(co.get("fixedInternalStepSize"))

OK, DISCARD, ERROR = 0, 2, 3
messages = []
LOG = c.CFUNCTYPE(None, c.c_void_p, c.c_int, c.c_char_p, c.c_char_p)
log = LOG(lambda environment, status, category, text: messages.append((environment, text.decode())))
TYPES = {"Float64": c.c_double, "Int32": c.c_int32}
p, size, flag, real, ref = c.c_void_p, c.c_size_t, c.c_bool, c.c_double, c.c_uint32
library.fmi3GetVersion.restype = c.c_char_p
instantiate = library.fmi3InstantiateCoSimulation
instantiate.restype = p
instantiate.argtypes = [c.c_char_p, c.c_char_p, c.c_char_p, flag, flag, flag, flag, c.POINTER(ref), size, p, LOG, p]
library.fmi3InstantiateModelExchange.restype = p
library.fmi3InstantiateModelExchange.argtypes = [c.c_char_p, c.c_char_p, c.c_char_p, flag, flag, p, LOG]
library.fmi3EnterInitializationMode.argtypes = [p, flag, real, real, flag, real]
library.fmi3DoStep.argtypes = [p, real, real, flag, c.POINTER(flag), c.POINTER(flag), c.POINTER(flag),
                               c.POINTER(real)]
for name in ("ExitInitializationMode", "Terminate", "Reset", "EnterEventMode"):
    getattr(library, "fmi3" + name).argtypes = [p]
for kind, of in TYPES.items():
    for verb in ("Get", "Set"):
        getattr(library, f"fmi3{verb}{kind}").argtypes = [p, c.POINTER(ref), size, c.POINTER(of), size]
assert library.fmi3GetVersion() == b"3.0"


def call(name, *arguments):
    status = getattr(library, name)(*arguments)
    if status != OK:
        sys.exit(f"{name}: status {status}: {messages}")


def start(token, event_mode=False):
    resources = os.path.join(os.path.abspath(folder), "resources", "").encode()
    return instantiate(b"plant", token.encode(), resources, False, False, event_mode, False, None, 0, 4711, log, None)


def exchange(verb, kind, causality, values=None):
    """Sets all of a kind, or gets it."""
    references = [r for cause, tag, r in variables if tag == kind and cause == causality]
    array = (TYPES[kind] * len(references))(*(values or []))
    call(f"fmi3{verb}{kind}", component, (ref * len(references))(*references), len(references), array, len(array))
    return list(array)


def read():
    found = {kind: exchange("Get", kind, "output") for kind in TYPES}
    row = [found[tag].pop(0) for cause, tag, _ in variables if cause == "output"]
    return bytes((c.c_double * len(row))(*row))


def step(time, length):
    event, ends, early, reached = flag(), flag(), flag(), real()
    status = library.fmi3DoStep(component, time, length, True, c.byref(event), c.byref(ends), c.byref(early),
                                c.byref(reached))
    assert not event.value and not early.value
    return status, ends.value, reached.value


token = description.get("instantiationToken")
assert start("{00000000-0000-0000-0000-000000000000}") is None, "another unit's description is taken"
assert start(token, event_mode=True) is None, "it has no event mode"
assert library.fmi3InstantiateModelExchange(b"plant", token.encode(), None, False, False, 4711, log) is None
assert len(messages) == 3 and all(environment == 4711 for environment, _ in messages), messages
component = p(start(token))
assert component.value, messages
inputs = [tag for cause, tag, _ in variables if cause == "input"]
data = pathlib.Path(commands).read_bytes()
rows = list(zip(*[iter((c.c_double * (len(data) // 8)).from_buffer_copy(data))] * len(inputs)))
for again in range(2):  # the second time after a reset: the same
    call("fmi3EnterInitializationMode", component, False, 0.0, 0.0, True, period * len(rows))
    call("fmi3ExitInitializationMode", component)
    out = read()
    for n, row in enumerate(rows):
        exchange("Set", "Float64", "input", [x for x, tag in zip(row, inputs) if tag == "Float64"])
        exchange("Set", "Int32", "input", [int(x) for x, tag in zip(row, inputs) if tag == "Int32"])
        assert exchange("Get", "Float64", "independent") == [n * period]
        assert step(n * period, period) == (OK, n + 1 == len(rows), (n + 1) * period), (n, messages)
        out += read()
    if again:
        assert out == first, "another run after a reset"
    first = out
    time = period * len(rows)
    one = c.c_double()
    assert library.fmi3GetFloat64(component, (ref * 1)(99999), 1, one, 1) == ERROR, "no such variable"
    asked = [r for cause, tag, r in variables if tag == "Float64" and cause == "input"][:1]
    for wrong in (float("nan"), 1e9):
        assert library.fmi3SetFloat64(component, (ref * 1)(*asked), 1, c.c_double(wrong), 1) == ERROR
    assert library.fmi3SetFloat64(component, (ref * 1)(*asked), 1, (c.c_double * 2)(), 2) == ERROR, "two values of one"
    assert library.fmi3EnterEventMode(component) == ERROR
    assert step(time, 0.5 * period)[0] == ERROR, "half a period"
    assert step(time + period, period)[0] == ERROR, "a gap in time"
    assert step(time, period) == (DISCARD, True, time), "beyond the end of the scenario"
    call("fmi3Reset", component)
library.fmi3FreeInstance(component)
pathlib.Path(readings).write_bytes(first)
