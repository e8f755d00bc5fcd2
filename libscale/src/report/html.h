// Text on its way into a page.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace scale::report {

// UTF-8 text as HTML or SVG text, also between double quotes. What would not be seen is made visible: controls and
// marks of writing direction become [U+202E], line ends a blank.
std::string escaped(std::string_view text);

// Text that a person or a file gave, set apart so that its direction of writing stays its own.
std::string foreign(std::string_view text);

// A sentence of the engine, with what others named in it: as `foreign`, and a number keeps its unit (narrow no-break
// space) and what stands beyond ± or ×; before a number with a unit a hyphen is a minus sign. Not for names, which must
// stay as they are.
std::string sentence(std::string_view text);

// As the value of a CSS string, whatever it holds; at most `most` bytes of it.
std::string css_string(std::string_view text, std::size_t most);

// A list of what, and how it is. `value` is HTML; an empty one shows as "not stated".
struct Fact {
  std::string name, value;
};
std::string facts(const std::vector<Fact>& list);

struct Column {
  std::string head;
  bool number = false;  // set right
};
// What a table does on a narrow screen: it scrolls aside, or each row becomes a block with the heads beside its cells.
enum class Narrow { scroll, stack };

// `cells` are HTML, row by row. `label` names the part that scrolls.
std::string table(const std::string& label, const std::vector<Column>& columns,
                  const std::vector<std::vector<std::string>>& rows, Narrow narrow = Narrow::scroll);

// `full`: on paper the content takes the whole width, as wide tables need it.
std::string section(const std::string& heading, const std::string& content, bool full = false);

}  // namespace scale::report
