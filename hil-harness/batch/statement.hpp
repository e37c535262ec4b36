/// Statements of SQLite: values are bound in order, rows read column by column.
#pragma once

#include <sqlite3.h>

#include <cstdint>
#include <limits>
#include <string>

namespace duskline::harness {

class Statement {
 public:
  Statement(sqlite3* db, const char* sql) { sqlite3_prepare_v2(db, sql, -1, &handle_, nullptr); }
  ~Statement() { sqlite3_finalize(handle_); }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  Statement& bind(std::int64_t value) { return sqlite3_bind_int64(handle_, ++place_, value), *this; }
  /// Not a number is kept as NULL.
  Statement& bind(double value) { return sqlite3_bind_double(handle_, ++place_, value), *this; }
  Statement& bind(const std::string& value) {
    sqlite3_bind_text(handle_, ++place_, value.data(), static_cast<int>(value.size()), SQLITE_TRANSIENT);
    return *this;
  }
  bool row() { return sqlite3_step(handle_) == SQLITE_ROW; }
  /// True when it has been carried out.
  bool done() { return sqlite3_step(handle_) == SQLITE_DONE; }
  std::int64_t whole(int column) { return sqlite3_column_int64(handle_, column); }
  double number(int column) {
    return sqlite3_column_type(handle_, column) == SQLITE_NULL ? std::numeric_limits<double>::quiet_NaN()
                                                               : sqlite3_column_double(handle_, column);
  }
  std::string text(int column) {
    const auto* bytes = reinterpret_cast<const char*>(sqlite3_column_text(handle_, column));
    return bytes == nullptr ? std::string{} : std::string(bytes);
  }

 private:
  sqlite3_stmt* handle_ = nullptr;
  int place_ = 0;
};

/// Carries out statements that return nothing; false with a problem.
inline bool run_sql(sqlite3* db, const char* sql, std::string& problem) {
  char* message = nullptr;
  if (sqlite3_exec(db, sql, nullptr, nullptr, &message) == SQLITE_OK) return true;
  problem = message == nullptr ? "cannot be written" : message;
  sqlite3_free(message);
  return false;
}

}  // namespace duskline::harness
