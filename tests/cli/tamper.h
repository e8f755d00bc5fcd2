// A register that somebody lays hands on.
#pragma once

#include <sqlite3.h>

#include "documents.h"

namespace cli_test {

// What somebody with an SQLite program does to the file.
inline void tamper(const TemporaryFolder& folder, const std::string& statements) {
  sqlite3* database = nullptr;
  REQUIRE(sqlite3_open((folder / "register.sqlite").c_str(), &database) == SQLITE_OK);
  REQUIRE(sqlite3_exec(database, statements.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(database);
}

}  // namespace cli_test
