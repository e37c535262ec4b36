#include "hil-harness/trace/trace_writer.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <utility>

#include "hil-harness/trace/column_file.hpp"
#include "hil-harness/trace/layout.hpp"
#include "hil-harness/trace/row_file.hpp"

namespace duskline::harness {

namespace {

/// Waits until the bytes are on the disk; false with errno set.
bool sync_file(const std::string& path) {
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (file < 0) return false;
  const bool well = ::fsync(file) == 0 || errno == EINVAL;  // a file system may know no such thing
  const int why = errno;
  ::close(file);
  errno = why;
  return well;
}

/// A second name for the rows, under which they stay; false with errno set.
bool keep_rows(const std::string& path, bool wanted) {
  const std::string rows = path + ".rows";
  return !wanted ||
         ((::unlink(rows.c_str()) == 0 || errno == ENOENT) && ::link(path.c_str(), rows.c_str()) == 0);
}

}  // namespace

struct TraceWriter::File {
  std::string path;
  std::vector<SignalInfo> signals;
  TraceAttributes attributes;
  TraceOptions options;
  std::size_t width = 0;
  RowFile rows;
  Outcome state;  // the first problem stays
  bool open = false;

  bool keep(Outcome outcome) {
    if (state) state = std::move(outcome);
    return static_cast<bool>(state);
  }
};

TraceWriter::TraceWriter(std::string path, std::vector<SignalInfo> signals, const TraceAttributes& attributes,
                         TraceOptions options)
    : file_(std::make_unique<File>()) {
  file_->path = std::move(path);
  file_->signals = std::move(signals);
  file_->attributes = attributes;
  file_->options = options;
  file_->width = row_width(file_->signals);
  if (!file_->keep(layout::check(file_->signals))) return;
  file_->open = file_->keep(options.go_on ? file_->rows.go_on(file_->path, file_->signals, *options.go_on)
                                          : file_->rows.create(file_->path, file_->signals, attributes));
}

TraceWriter::~TraceWriter() {
  if (file_) close();
}
TraceWriter::TraceWriter(TraceWriter&&) noexcept = default;
TraceWriter& TraceWriter::operator=(TraceWriter&& other) noexcept {
  if (file_) close();
  file_ = std::move(other.file_);
  return *this;
}

const std::string& TraceWriter::problem() const {
  return file_->state.problem;
}
bool TraceWriter::no_space() const {
  return file_->state.no_space;
}
std::size_t TraceWriter::rows_written() const {
  return file_->rows.rows();
}

bool TraceWriter::append(double time_s, std::span<const double> values) {
  File& file = *file_;
  if (!file.state) return false;
  if (!file.open) return file.keep({file.path + ": the trace is closed"});
  if (values.size() != file.width)
    return file.keep({file.path + ": a row has " + std::to_string(values.size()) + " values instead of " +
                      std::to_string(file.width)});
  file.rows.add(time_s, values);
  return file.rows.waiting() < file.options.flush_rows || flush();
}

bool TraceWriter::flush() {
  if (!file_->state || !file_->open) return static_cast<bool>(file_->state);
  return file_->keep(file_->rows.write());
}

RowsInFile TraceWriter::in_file() const {
  return file_->rows.in_file();
}

bool TraceWriter::leave() {
  flush();
  file_->open = false;
  file_->rows.close();
  return static_cast<bool>(file_->state);
}

bool TraceWriter::close() {
  File& file = *file_;
  if (!file.open) return static_cast<bool>(file.state);
  flush();
  file.open = false;
  // What could not be recorded in full is left as it is: rewriting needs still more space.
  if (file.state) {
    const std::string columns = file.path + ".columns";
    const Outcome written =
        write_columns(columns, file.rows, file.signals, file.attributes, file.options.deflate);
    if (!written)
      file.keep(
          {file.path + ": stays as rows, since it cannot be rewritten as columns (" + written.problem + ")",
           written.no_space});
    else if (!sync_file(columns) || !keep_rows(file.path, file.options.keep_rows) ||
             std::rename(columns.c_str(), file.path.c_str()) != 0)
      file.keep(layout::system_outcome(file.path));
    if (!file.state) ::unlink(columns.c_str());  // nothing half-written stays
  }
  file.rows.close();
  return static_cast<bool>(file.state);
}

}  // namespace duskline::harness
