// `duskline linearize`: files that numpy reads and agrees with, messages, nothing overwritten.
// The peer is numpy (LAPACK): eigenvalues, responses and margins are worked out there from the matrices alone.
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/source_tree.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

const std::string kScenario = DUSKLINE_SOURCE_DIR "/scenarios/library/dawn-dusk/equinox-sol.yaml";
const char* const kPython = "/usr/bin/python3";

Child linearize(const std::vector<std::string>& more) {
  std::vector<std::string> words{"linearize", kScenario};
  words.insert(words.end(), more.begin(), more.end());
  return run_duskline(words);
}

/// Reads both files; every assert is a check of ours against LAPACK.
const char* const kPeer = R"(
import json, sys
import numpy as np
folder = sys.argv[1]
j = json.load(open(folder + '/linear.json'))
assert j['format'] == 'duskline-linear/1'
M = lambda s, k: np.array(j[s][k])
def matched(ours, theirs, bound):
    theirs = list(theirs)
    for z in ours:
        k = int(np.argmin([abs(z - t) for t in theirs]))
        assert abs(z - theirs[k]) <= bound * max(1, abs(z)), (z, theirs[k])
        theirs.pop(k)
pair = lambda p: np.array([a + 1j * b for a, b in p])
# poles of the continuous plant: balanced by the sizes of the states, as anybody would
A = M('plant', 'A')
n = len(A)
assert n == len(j['plant']['states']) == len(j['operating_point']['states'])
d = np.ones(n)
for _ in range(60):
    for i in range(n):
        B = A * d / d[:, None]
        c, r = np.abs(B[:, i]).sum() - abs(B[i, i]), np.abs(B[i]).sum() - abs(B[i, i])
        if c > 0 and r > 0: d[i] *= 2.0 ** np.round(0.5 * np.log2(r / c))
matched(pair(j['plant_poles']), np.linalg.eigvals(A * d / d[:, None]), 1e-8)
matched(pair(j['sampled_plant_poles']), np.exp(pair(j['plant_poles']) * j['period']), 1e-8)
# the closed loop from its parts
P = {k: M('measured_plant', k) for k in 'ABCD'}
K = {k: M('controller', k) for k in 'ABCD'}
readings = len([o for o in j['measured_plant']['outputs'] if o['name'].startswith('reading.')])
C = P['C'][:readings]
whole = np.block([[P['A'] + P['B'] @ K['D'][:, :readings] @ C, P['B'] @ K['C']], [K['B'][:, :readings] @ C, K['A']]])
assert np.allclose(whole, M('closed_loop', 'A'), rtol=1e-12, atol=1e-14 * np.abs(whole).max())
# the loop of the speed, broken at its command: the others closed by hand
loop = next(l for l in j['loops'] if l['name'] == 'speed')
assert loop['feedback'] and loop['stable'] and loop['in_charge']
size = np.abs(whole).max(axis=1) + 1e-300
F = M('closed_loop', 'A').copy()
np_, nk = len(P['A']), len(K['A'])
H = np.concatenate([(K['D'][:, :readings] @ C)[0], K['C'][0]])
G = np.concatenate([P['B'][:, 0], np.zeros(nk)])
F -= np.outer(G, H)
scale = np.concatenate([np.array([1.0] * np_), np.ones(nk)])
worst = 0
for w, (re, im) in list(zip(j['frequency'], loop['response']))[::20]:
    z = np.exp(1j * w * j['period'])
    L = -H @ np.linalg.solve(z * np.eye(len(F)) - F, G)
    worst = max(worst, abs(L - (re + 1j * im)) / abs(L))
assert worst < 1e-6, worst
L = pair(loop['response'])
ms = np.max(1 / abs(1 + L))
assert abs(ms - loop['sensitivity_peak']) < 2e-3 * ms and ms <= loop['sensitivity_peak'] * (1 + 1e-9)
# the files in the exchange format, read by scipy where it is there: the same numbers
def market(path):
    try:
        from scipy.io import mmread
        return mmread(path)
    except ImportError:
        lines = open(path).read().split('\n')
        assert lines[0] == '%%MatrixMarket matrix array real general'
        rows, columns = (int(x) for x in lines[1].split())
        return np.array([float(x) for x in lines[2:-1]]).reshape((rows, columns), order='F')
for k in 'ABCD':
    assert np.array_equal(market(folder + '/plant-' + k + '.mtx'), M('plant', k)), k
    assert np.array_equal(market(folder + '/closed-loop-' + k + '.mtx'), M('closed_loop', k)), k
print('agrees')
)";

}  // namespace

TEST_CASE("The files say the same to numpy, which finds the same poles and the same loop") {
  const Folder here{"linearize"};
  const std::string out = here.file("linear");
  const Child child = linearize({"--at", "10 min", "--out", out});
  INFO(child.err);
  REQUIRE(child.exit_code == 0);
  CHECK(has(child.out, "speed"));
  CHECK(has(child.out, "stable"));
  for (const char* name : {"linear.json", "plant-A.mtx", "closed-loop-D.mtx", "linear.html"})
    CHECK(fs::exists(out + "/" + name));
  if (std::system("/usr/bin/python3 -c 'import numpy' 2> /dev/null") != 0) {
    skip("python3-numpy is not installed");
  } else {
    const Child peer = run_child(kPython, {"-c", kPeer, out});
    INFO(peer.err);
    CHECK(peer.out == "agrees\n");
  }

  const std::string before = bytes_of(out + "/linear.json");
  const Child again = linearize({"--at", "10 min", "--out", out});
  CHECK(again.exit_code == 2);
  CHECK(has(again.err, "--out:1:1: "));
  CHECK(has(again.err, "holds linear models already (linear.json); --force overwrites it"));
  const Child forced = linearize({"--at", "10 min", "--out", out, "--force", "--quiet"});
  CHECK(forced.exit_code == 0);
  CHECK(forced.out.empty());
  CHECK(bytes_of(out + "/linear.json") == before);  // same inputs, same bytes
}

TEST_CASE("Linear models say over how many ticks their controller is a mean") {
  const Folder here{"linearize-ticks"};
  const Child long_after = linearize({"--at", "10 min", "--out", here.file("after")});
  REQUIRE(long_after.exit_code == 0);
  CHECK(has(long_after.out, "controller       mean over 80 ticks\n"));
  CHECK_FALSE(has(long_after.out, "warning"));
  CHECK(has(bytes_of(here.file("after/linear.json")), "\"controller_ticks\":80,\"warning\":\"\""));
  // ten ticks after standby is asked for
  const Child soon =
      linearize({"--at", "610 s", "--set",
                 "commands=[{at: 0 s, mode: production, demand: 10 g/h}, {at: 600 s, mode: standby}]",
                 "--out", here.file("soon")});
  INFO(soon.err << soon.out);
  REQUIRE(soon.exit_code == 0);
  CHECK_FALSE(has(soon.out, "mean over 80 ticks"));
  CHECK(has(soon.out, "  warning          a controller is a mean over "));
  CHECK(has(bytes_of(here.file("soon/linear.json")), "\"warning\":\"a controller is a mean over "));
  CHECK(has(bytes_of(here.file("soon/linear.html")), "a controller is a mean over "));
}

TEST_CASE("An instant that is none, or none of the run, is a located problem") {
  const Folder here{"linearize-bad"};
  const auto refused = [&](const std::string& at, const std::string& why) {
    const Child child = linearize({"--at", at, "--out", here.file("out")});
    INFO(child.err);
    CHECK(child.exit_code == 2);
    CHECK(has(child.err, "--at:1:1: "));
    CHECK(has(child.err, why));
    CHECK_FALSE(fs::exists(here.file("out")));
  };
  refused("noon", "give a local time such as 12:00 or a duration such as 6 h");
  refused("25:00", "give a local time");
  refused("12", "give a local time");
  refused("40 h", "144000 s is not within the run of");
  const Child missing = linearize({});
  CHECK(missing.exit_code == 2);
}
