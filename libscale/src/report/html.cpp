#include "report/html.h"

#include <scale/report.h>

#include <algorithm>
#include <array>
#include <cstdint>

namespace scale::report {
namespace {

constexpr char kHexDigits[] = "0123456789ABCDEF";

std::string code_point_words(std::uint32_t code) {
  std::string digits;
  for (int shift = code > 0xFFFF ? 20 : 12; shift >= 0; shift -= 4) digits += kHexDigits[(code >> shift) & 15U];
  return "[U+" + digits + "]";
}

// Characters that are not seen but change how others are: marks and controls of direction, zero widths, separators.
bool unseen(std::uint32_t code) {
  return code < 0x20 || (code >= 0x7F && code < 0xA0) || code == 0xAD || code == 0x61C ||
         (code >= 0x200B && code <= 0x200F) || (code >= 0x2028 && code <= 0x202E) ||
         (code >= 0x2060 && code <= 0x206F) || code == 0xFEFF;
}

// Takes the character at the head of `text`; bytes that are none give U+FFFD.
std::uint32_t take(std::string_view& text) {
  const auto lead = static_cast<unsigned char>(text[0]);
  const std::size_t more = lead < 0xC0 ? 0 : lead < 0xE0 ? 1 : lead < 0xF0 ? 2 : lead < 0xF8 ? 3 : 0;
  std::uint32_t code = more == 0 ? lead : lead & (0x3FU >> more);
  bool good = lead < 0x80 || more > 0;
  for (std::size_t i = 1; good && i <= more; ++i) {
    const auto next = i < text.size() ? static_cast<unsigned char>(text[i]) : 0U;
    good = (next & 0xC0U) == 0x80U;
    code = (code << 6U) | (next & 0x3FU);
  }
  text.remove_prefix(good ? more + 1 : 1);
  return good ? code : 0xFFFD;
}

std::string as_text(std::uint32_t code, std::string_view bytes) {
  switch (code) {
    case '&':
      return "&amp;";
    case '<':
      return "&lt;";
    case '>':
      return "&gt;";
    case '"':
      return "&quot;";
    case '\'':
      return "&#39;";
    case '\n':
    case '\t':
      return " ";
    case 0xFFFD:
      return "\uFFFD";
    default:
      return unseen(code) ? code_point_words(code) : std::string(bytes);
  }
}

// The length of a day like 2026-02-28 at that place, 0 where there is none.
std::size_t day_at(const std::string& text, std::size_t at) {
  constexpr std::string_view kShape = "0000-00-00";
  const auto digit = [&](std::size_t i) { return i < text.size() && text[i] >= '0' && text[i] <= '9'; };
  if (at + kShape.size() > text.size() || (at > 0 && digit(at - 1)) || digit(at + kShape.size())) return 0;
  for (std::size_t i = 0; i < kShape.size(); ++i)
    if (kShape[i] == '0' ? !digit(at + i) : text[at + i] != '-') return 0;
  return kShape.size();
}

}  // namespace

std::string escaped(std::string_view text) {
  std::string result;
  while (!text.empty()) {
    const std::string_view before = text;
    const std::uint32_t code = take(text);
    result += as_text(code, before.substr(0, before.size() - text.size()));
  }
  return result;
}

namespace {

// A path breaks behind its slashes, before any of its names does; a day does not break.
std::string set_apart(std::string_view text, bool path) {
  if (text.empty()) return "";
  std::string html = "<bdi>";
  const std::string safe = escaped(text);
  for (std::size_t at = 0; at < safe.size();) {
    if (const std::size_t length = day_at(safe, at); length > 0) {
      html.append("<span class=\"q\">").append(safe, at, length).append("</span>");
      at += length;
      continue;
    }
    html += safe[at];
    if (safe[at++] == '/' && path) html += "<wbr>";
  }
  return html + "</bdi>";
}

bool latin(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

bool unit_at(std::string_view text, std::size_t at) {
  constexpr std::array<std::string_view, 7> kUnits{"%", "µm", "°C", "px", "mm", "/K", "K"};
  return std::any_of(kUnits.begin(), kUnits.end(), [&](std::string_view unit) {
    const std::size_t end = at + unit.size();
    return text.substr(at).starts_with(unit) && (end >= text.size() || (!latin(text[end]) && (text[end] & 0x80) == 0));
  });
}

// A hyphen before a number with a unit; what else a hyphen stands in is a name, a day or a word.
bool minus_at(std::string_view text, std::size_t at) {
  if (text[at] != '-' || (at > 0 && text[at - 1] != ' ' && text[at - 1] != '(')) return false;
  const std::size_t end = text.find_first_not_of("0123456789.", at + 1);
  return end != std::string_view::npos && end > at + 1 && text[end] == ' ' && unit_at(text, end + 1);
}

}  // namespace

std::string foreign(std::string_view text) { return set_apart(text, true); }

std::string sentence(std::string_view text) {
  std::string kept;
  for (std::size_t at = 0; at < text.size(); ++at) {
    const bool between =
        text[at] == ' ' && at > 0 && !latin(text[at - 1]) && text[at - 1] != ' ' && unit_at(text, at + 1);
    kept += between ? "\u202F" : minus_at(text, at) ? "\u2212" : std::string(1, text[at]);
  }
  for (const std::string_view sign : {"±", "×"}) {
    const std::string open = " " + std::string(sign) + " ", bound = "\u00A0" + std::string(sign) + "\u00A0";
    for (std::size_t at = kept.find(open); at != std::string::npos; at = kept.find(open, at + bound.size()))
      kept.replace(at, open.size(), bound);
  }
  return set_apart(kept, false);
}

std::string css_string(std::string_view text, std::size_t most) {
  std::string result = "\"";
  while (!text.empty() && result.size() < most) {
    const std::uint32_t code = take(text);
    const bool plain = (code >= '0' && code <= '9') || (code >= 'A' && code <= 'Z') || (code >= 'a' && code <= 'z') ||
                       code == ' ' || code == '-' || code == '.' || code == ',' || code == ':';
    if (plain) {
      result += static_cast<char>(code);
      continue;
    }
    if (unseen(code)) continue;
    result += '\\';
    for (int shift = 20; shift >= 0; shift -= 4) result += kHexDigits[(code >> shift) & 15U];
    result += ' ';
  }
  return result + "\"";
}

std::string facts(const std::vector<Fact>& list) {
  std::string html = "<dl class=\"facts\">\n";
  for (const Fact& fact : list)
    html += "<div><dt>" + fact.name + "</dt><dd>" +
            (fact.value.empty() ? "<span class=\"none\">not stated</span>" : fact.value) + "</dd></div>\n";
  return html + "</dl>\n";
}

std::string table(const std::string& label, const std::vector<Column>& columns,
                  const std::vector<std::vector<std::string>>& rows, Narrow narrow) {
  const bool stack = narrow == Narrow::stack;
  std::string html = "<div class=\"wide\" role=\"group\" tabindex=\"0\" aria-label=\"" + escaped(label) +
                     "\"><table class=\"grid" + (stack ? " stack" : "") + "\"><thead><tr>";
  const auto side = [&](std::size_t i) { return columns[i].number ? " class=\"n\"" : ""; };
  for (std::size_t i = 0; i < columns.size(); ++i)
    html += std::string("<th scope=\"col\"") + side(i) + ">" + columns[i].head + "</th>";
  html += "</tr></thead><tbody>\n";
  for (const auto& row : rows) {
    html += "<tr>";
    for (std::size_t i = 0; i < row.size(); ++i)
      html += std::string("<td") + side(i) + (stack && i > 0 ? " data-head=\"" + columns[i].head + "\"" : "") + ">" +
              row[i] + "</td>";
    html += "</tr>\n";
  }
  return html + "</tbody></table></div>\n";
}

std::string section(const std::string& heading, const std::string& content, bool full) {
  return std::string(full ? "<section class=\"full\">" : "<section>") + "<h2>" + escaped(heading) +
         "</h2><div class=\"body\">\n" + content + "</div></section>\n";
}

}  // namespace scale::report
