/// What an operator's console shows of a plant: groups, tags, the flow picture, margins, procedures, trends.
///
/// What it is   data beside a plant (scenarios/consoles/<plant>.yaml); the dictionaries give everything else
/// Validity     signals are those of the dictionary, an item counted from 1: cell_voltage_reading[3]; conditions are
///              requirements that are judged on the present instant alone
/// Source       tags: ISA-5.1-2022 letters and loop numbers of our own
/// Left out     colours and layout of the page
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "plant-model/form.hpp"
#include "scenarios/reader/problem.hpp"
#include "scenarios/requirements/requirement.hpp"

namespace duskline::scenarios {

struct ConsoleGroup {
  std::string name, title;
};

/// What the console adds to a signal of the dictionary, or to all items of one.
struct ConsoleTag {
  std::string signal, tag, group, title;  ///< `#` in tag and title: the number of the item
  std::string set;                        ///< command that sets it
  std::string alarm_low, alarm_high;      ///< alarms whose limits belong to it
};

struct PicturePart {
  std::string name, title, symbol;
  double x{}, y{}, w{}, h{};
  std::string state;  ///< signal that is shown in it
  bool flip{};
};

struct PicturePipe {
  std::string kind, points, title, flow;
  bool arrow{};
};

struct PictureReading {
  std::string signal;
  double x{}, y{};
};

struct MarginRows {
  std::string title, text, row;        ///< `#` in row: the number of the item
  std::string voltage, margin, sigma;  ///< signals; the first two have an item a row
  std::string alarm, trip;             ///< alarm by its word, parameter of the controller
};

/// One card a module, of a plant with several; a signal has its first place for each of them.
struct ModuleCards {
  std::string title, text;
  std::string mode, margin, sigma,
      values;               ///< signals with one place a module; the last: names between commas
  std::string alarm, trip;  ///< alarm by its word, parameter of the controller
};

struct ProcedureStep {
  std::string text, done_when, signal;
};
struct Procedure {
  std::string name, title, text;
  std::vector<ProcedureStep> steps;
};

struct TrendChoice {
  std::string title, signals;  ///< names between commas
};

struct ConsoleFile {
  std::vector<ConsoleGroup> groups;
  std::vector<ConsoleTag> tags;
  double width{100.0}, height{40.0};
  std::vector<PicturePart> parts;
  std::vector<PicturePipe> pipes;
  std::vector<PictureReading> readings;
  MarginRows margins;
  ModuleCards modules;
  std::vector<Procedure> procedures;
  std::vector<TrendChoice> trends;
};

/// The console of a plant, in the folder of consoles: its own, else that of the plant of its form whose signals it has.
std::filesystem::path console_path(const std::filesystem::path& folder, const std::string& plant,
                                   const plant::PlantForm& form);

/// `signals` are what conditions may name.
Result<ConsoleFile> read_console(const std::filesystem::path& path, std::span<const TraceSignal> signals);

/// The numbers of "1 2, 3 4"; empty: it is no such text.
std::vector<std::pair<double, double>> picture_points(const std::string& text);
/// The names of "a, b", without blanks.
std::vector<std::string> names_between_commas(const std::string& text);

}  // namespace duskline::scenarios
