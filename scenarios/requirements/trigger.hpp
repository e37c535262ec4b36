/// A condition that begins something: a requirement of which one waits until it is certain that it holds.
///
/// What it is   the sentence `eventually (condition)`, which a Stream decides as the run goes
/// Equation     it has come true at the first sample at which the samples so far settle it, whatever follows
/// Validity     windows of bounded length; one that looks ahead delays it to its end: `always for 5 min (...)` comes true
///              five minutes after the state began
/// Left out     nothing of the language but windows without an end
#pragma once

#include "scenarios/requirements/requirement.hpp"

namespace duskline::scenarios {

/// The whole sentence; problems have columns of the condition.
ParsedRequirement parse_trigger(std::string_view condition, std::span<const TraceSignal> signals);

}  // namespace duskline::scenarios
