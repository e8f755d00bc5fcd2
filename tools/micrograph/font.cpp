#include "font.h"

#include <array>

namespace micrograph {
namespace {

struct Glyph {
  char character;
  std::string_view lines;  // digit pairs are points, a space lifts the pen
};

constexpr std::array kGlyphs = {
    Glyph{'0', "10304145361605011030"},
    Glyph{'1', "112026 1636"},
    Glyph{'2', "01103041420646"},
    Glyph{'3', "0110304142334445361605 1333"},
    Glyph{'4', "36300444"},
    Glyph{'5', "400003334445361605"},
    Glyph{'6', "41301001053616 051636454433130504"},
    Glyph{'7', "004016"},
    Glyph{'8', "1030414233130201 1030 1333444536160504 0413"},
    Glyph{'9', "0516364541301001021343"},
    Glyph{'A', "062046 1434"},
    Glyph{'B', "00063645443303 0030414233"},
    Glyph{'C', "4130100105163645"},
    Glyph{'D', "00062645412000"},
    Glyph{'E', "40000646 0333"},
    Glyph{'F', "400006 0333"},
    Glyph{'G', "41301001051636454323"},
    Glyph{'H', "0006 4046 0343"},
    Glyph{'I', "2026"},
    Glyph{'J', "4045361605"},
    Glyph{'K', "0006 400346"},
    Glyph{'L', "000646"},
    Glyph{'M', "0600234046"},
    Glyph{'N', "06004640"},
    Glyph{'O', "103041453616050110"},
    Glyph{'P', "060030414233 3303"},
    Glyph{'R', "060030414233032346"},
    Glyph{'S', "413010010213334445361605"},
    Glyph{'T', "0040 2026"},
    Glyph{'U', "000516364540"},
    Glyph{'V', "002640"},
    Glyph{'W', "0016233640"},
    Glyph{'X', "0046 4006"},
    Glyph{'Y', "002340 2326"},
    Glyph{'Z', "00400646"},
    Glyph{'.', "1626"},
    Glyph{'-', "0343"},
    Glyph{'u', "02060515243245 4246"},
    Glyph{'m', "0206 031222232426 23324246"},
    Glyph{'x', "0246 4206"},
    Glyph{'/', "4006"},
};

void add_glyph(char character, double left, std::vector<Stroke>& strokes) {
  for (const Glyph& glyph : kGlyphs) {
    if (glyph.character != character) continue;
    double px = -1.0;
    double py = -1.0;
    for (std::size_t i = 0; i < glyph.lines.size();) {
      if (glyph.lines[i] == ' ') {
        px = -1.0;
        ++i;
        continue;
      }
      const double x = glyph.lines[i] - '0';
      const double y = glyph.lines[i + 1] - '0';
      if (px >= 0.0) strokes.push_back({left + px, py, left + x, y});
      px = x;
      py = y;
      i += 2;
    }
  }
}

}  // namespace

std::vector<Stroke> strokes_of(std::string_view text) {
  std::vector<Stroke> strokes;
  double left = 0.0;
  for (const char character : text) {
    add_glyph(character, left, strokes);
    left += kGlyphAdvance;
  }
  return strokes;
}

}  // namespace micrograph
