"""Steps a unit for co-simulation: written from the text of FMI 2.0 alone, with nothing of ours.

    fmi_importer.py UNIT.fmu FOLDER COMMANDS READINGS [STEPS_TOGETHER]

COMMANDS holds doubles, one row a step: the inputs in the order of the description. READINGS gets the outputs at the start
and after each step in the same way.
"""
import ctypes as c
import sys, pathlib, xml.etree.ElementTree as tree, zipfile

unit, folder, commands, readings = sys.argv[1:5]
zipfile.ZipFile(unit).extractall(folder)
description = tree.parse(f"{folder}/modelDescription.xml").getroot()
assert description.get("fmiVersion") == "2.0"
co = description.find("CoSimulation")
library = c.CDLL(f"{folder}/binaries/linux64/{co.get('modelIdentifier')}.so")
variables = [(v.get("causality"), v[0].tag, int(v.get("valueReference")))
             for v in description.iter("ScalarVariable")]
period = float(description.find("DefaultExperiment").get("stepSize"))

messages = []
LOGGER = c.CFUNCTYPE(None, c.c_void_p, c.c_char_p, c.c_int, c.c_char_p, c.c_char_p, c.c_char_p)


class Callbacks(c.Structure):
    _fields_ = [("logger", LOGGER), ("allocate", c.CFUNCTYPE(c.c_void_p, c.c_size_t, c.c_size_t)),
                ("free", c.CFUNCTYPE(None, c.c_void_p)), ("finished", c.CFUNCTYPE(None, c.c_void_p, c.c_int)),
                ("environment", c.c_void_p)]


callbacks = Callbacks(logger=LOGGER(lambda env, name, status, category, form, text: messages.append(text.decode())))
TYPES = {"Real": c.c_double, "Integer": c.c_int}
step = library.fmi2DoStep
step.argtypes = [c.c_void_p, c.c_double, c.c_double, c.c_int]
library.fmi2Instantiate.restype = c.c_void_p
library.fmi2GetVersion.restype = library.fmi2GetTypesPlatform.restype = c.c_char_p
library.fmi2SetupExperiment.argtypes = [c.c_void_p, c.c_int, c.c_double, c.c_double, c.c_int, c.c_double]
assert library.fmi2GetVersion() == b"2.0" and library.fmi2GetTypesPlatform() == b"default"


def call(name, *arguments):
    status = getattr(library, name)(*arguments)
    if status != 0:
        sys.exit(f"{name}: status {status}: {messages}")


def instantiate(guid):
    uri = pathlib.Path(folder, "resources").absolute().as_uri().encode()
    return library.fmi2Instantiate(b"plant", 1, guid.encode(), uri, c.byref(callbacks), 0, 0)


def exchange(name, kind, causality, values=None):
    """Sets all of a kind, or gets it."""
    references = [r for cause, tag, r in variables if tag == kind and cause == causality]
    array = (TYPES[kind] * len(references))(*(values or []))
    call(name + kind, component, (c.c_uint * len(references))(*references), c.c_size_t(len(references)), array)
    return list(array)


def read():
    found = {"Real": exchange("fmi2Get", "Real", "output"), "Integer": exchange("fmi2Get", "Integer", "output")}
    row = [found[tag].pop(0) for cause, tag, _ in variables if cause == "output"]
    return bytes((c.c_double * len(row))(*row))


assert instantiate("{00000000-0000-0000-0000-000000000000}") is None, "another unit's description is taken"
component = c.c_void_p(instantiate(description.get("guid")))
assert component.value, messages
inputs = [tag for cause, tag, _ in variables if cause == "input"]
data = pathlib.Path(commands).read_bytes()
rows = list(zip(*[iter((c.c_double * (len(data) // 8)).from_buffer_copy(data))] * len(inputs)))
for again in range(2):  # the second time after a reset: the same
    call("fmi2SetupExperiment", component, 0, 0.0, 0.0, 1, period * len(rows))
    call("fmi2EnterInitializationMode", component)
    call("fmi2ExitInitializationMode", component)
    out = read()
    for n, row in enumerate(rows):
        exchange("fmi2Set", "Real", "input", [x for x, tag in zip(row, inputs) if tag == "Real"])
        exchange("fmi2Set", "Integer", "input", [int(x) for x, tag in zip(row, inputs) if tag == "Integer"])
        call("fmi2DoStep", component, n * period, period, 1)
        out += read()
    if again:
        assert out == first, "another run after a reset"
    first = out
    time = period * len(rows)
    nowhere = (c.c_uint * 1)(99999)
    assert library.fmi2GetReal(component, nowhere, c.c_size_t(1), (c.c_double * 1)()) == 3, "no such variable"
    real = [r for cause, tag, r in variables if tag == "Real" and cause == "input"][:1]
    for wrong in (float("nan"), 1e9):
        assert library.fmi2SetReal(component, (c.c_uint * 1)(*real), c.c_size_t(1), (c.c_double * 1)(wrong)) == 3
    assert step(component, time, 0.5 * period, 1) == 3, "half a period"
    assert step(component, time + period, period, 1) == 3, "a gap in time"
    assert step(component, time, period, 1) == 2, "beyond the end of the scenario"
    call("fmi2Reset", component)
library.fmi2FreeInstance(component)
pathlib.Path(readings).write_bytes(first)
