// Pages to read, print and sign: HTML with charts as SVG, made from values alone. What all of them share; each kind has
// a header of its own: calibration_page.h, overview_page.h, card_page.h, check_page.h, measurement_page.h.
//
// A page needs no script and no network. Whatever comes from a file or a person (names, paths, the lab file's text) is
// escaped, and controls of writing direction in it are made visible. The same values give the same bytes; the time
// of printing comes from the caller. Text must be UTF-8.
// Rounding: uncertainties to two digits, values to the same place (GUM 7.2.6). Units follow a narrow no-break space.
#pragma once

#include <cstdint>
#include <string>

namespace scale {

struct PageStyle {
  bool decimal_comma = false;
  std::string printed_at;  // UTC, ISO 8601
  std::string tool;        // name and version of the program
  std::string home;        // address of the overview, relative; empty: none
};

// A picture beside the page or, as a data address, in it.
struct PagePicture {
  std::string source;         // relative address or data address; empty: missing
  int width = 0, height = 0;  // of the picture itself, pixels
  std::string caption;        // beneath it
  std::string description;    // for who cannot see it
  std::string missing;        // why it is not there; the page then keeps a labelled gap
};

// Where the register stands: its hash at printing, and how many records that hash covers.
struct ChainState {
  std::int64_t records = 0;
  std::string head;
};

struct PageRecord {
  std::int64_t number = 0;
  std::string hash, made_at, made_by;
  std::string state;  // "current", "withdrawn by 7", "superseded by 9"
};

}  // namespace scale
