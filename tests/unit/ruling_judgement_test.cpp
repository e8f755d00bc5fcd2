// Scales that a reader takes in at a glance, each of which a gate against cloth, text or blur once refused.
#include <doctest/doctest.h>
#include <micrograph/classes.h>
#include <scale/ruling.h>
#include <scale/units.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "support/grey_picture.h"

namespace {

struct Plain {
  const char* scene_class;
  std::uint64_t seed;
  double pitch_px;
};

TEST_CASE("plain scales are read") {
  for (const Plain& plain : {
           Plain{"square_grid", 2, 47.52906},                    // end lines on uneven ground
           Plain{"square_grid", 1019, 86.52155},                 // wide lines crossing
           Plain{"square_grid", 503, 11.42084},                  // crossing lines blurred into a wave
           Plain{"square_grid", 507, 20.75387},                  // the last ones beyond the ends of the others
           Plain{"defocus_disc", 506, 12.69207},                 // light falls off beyond the lines
           Plain{"uneven_lines", 508, 76.11797},                 // few, their heights smooth by chance
           Plain{"round_field", 24, 92.93176},                   // the border of the field for a line
           Plain{"paired_lines", 12, 47.37577},                  // half a pair at the frame
           Plain{"paired_lines", 1004, 19.05123},                // inner edges half as strong
           Plain{"crossed", 38, 25.16248},                       // every second line far longer
           Plain{"resampled", 1011, 150.2434},                   // six lines after many stairs of a base line
           Plain{"everything", 16, 15.19104},                    // small, in a corner full of lettering
           Plain{"poisson", 1016, 104.4063},                     // a base line half as high as the graduations
           Plain{"text_and_bars", 1011, 25.11577},               // a label over the lines
           Plain{"text_and_bars", 309, 11.25842},                // labels and arrows beyond their ends
           Plain{"defocus_gaussian", 1018, 14.81352},            // blurred, both ends in view
           Plain{"defocus_gaussian", 1003, 29.22064},            // a wave, other lines beside its end
           Plain{"resampled", 2012, 5.06884},                    // threes of lines stronger than the lines
           Plain{"tilt_in_depth", 1015, 10.74568},               // plainer in one part than in the whole
           Plain{"distortion", 1149, 92.81694},                  // a third of the lines cut by the picture's corners
           Plain{"distortion", 1210, 13.99125},                  // the same
           Plain{"tilt_in_depth", 1406, 9.84692},                // found in a part, its lines go on beyond it
           Plain{"distortion", 1162, 19.66656},                  // the same
           Plain{"tilt_in_depth", 2007, 35.01367},               // 8 % from end to end
           Plain{"crossed", 16, 12.39603},                       // many looks at the same lines
           Plain{"gamma", 1608, 14.01863},                       // every second line longer, as broad as the spaces
           Plain{"defocus_gaussian", 504, 27.91793},             // a wave, some of its lines cut by the frame
           Plain{"defocus_gaussian", 40, 47.26671},              // a wave that never reaches its ground
           Plain{"uneven_lines", 1605, 97.94059},                // broader at one end by chance
           Plain{"uneven_lines", 2005, 104.5831},                // few, of very unlike contrast
           Plain{"gamma", 706, 11.1566},                         // uneven light, single lines longer by a strip
           Plain{"uneven_lines", 6, 51.86452},                   // the same
           Plain{"uneven_lines", 308, 47.04677},                 // each line as dark as it happens to be
           Plain{"uneven_lines", 301, 35.77935},                 // each as broad as it happens to be
           Plain{"uneven_lines", 305, 80.98262},                 // the same, few
           Plain{"dense_and_blurred", 17, 7.518665},             // two lines in place of each, counted
           Plain{"dense_and_blurred", 305, 12.30656},            // five, after a look that could not count them
           Plain{"everything", 14, 123.6952},                    // few lines, after tries that found none
           Plain{"everything", 13, 108.2807},                    // few lines, some written over
           Plain{"everything", 52, 109.9016},                    // the same
           Plain{"everything", 22, 68.89613},                    // soft lines that end in steps and at the frame
           Plain{"everything", 31, 15.50251},                    // a wave, the frame of the field beside it
           Plain{"everything", 58, 13.21292},                    // the same
           Plain{"everything", 46, 26.607},                      // lines of very unlike contrast
           Plain{"small_scale_in_large_field", 2002, 3.703821},  // one end of the fine lines out of the way
           Plain{"small_scale_in_large_field", 1808, 3.638715},  // every second line longer, plainer than all of them
           Plain{"square_grid", 1609, 74.43835},                 // strips that crossing lines cover a part of
           Plain{"square_grid", 2108, 13.44609},                 // the same, dense
           Plain{"ring", 2103, 16.82054},                        // spaces as broad as lines, a base line at one end
           Plain{"noisy", 1805, 11.52966},                       // light falls off toward the base line
           Plain{"uneven_lines", 2106, 97.17493},                // seven, of very unlike contrast
           Plain{"uneven_lines", 39, 101.3632},                  // one far narrower than the others
           Plain{"square_grid", 38, 39.33733},                   // strips askew to the crossing lines
           Plain{"focus_gradient", 3005, 8.496},                 // places half way between them tried first
           Plain{"defocus_disc", 3407, 10.00042},                // followed beyond the ends of every second line
           Plain{"shading", 3408, 10.63742},                     // light falls off beside the ends of the lines
           Plain{"everything", 2507, 23.9503}                    // another scale's base line among them, blurred
       }) {
    CAPTURE(plain.scene_class);
    CAPTURE(plain.seed);
    const auto scene = micrograph::random_scene(*micrograph::scene_class_named(plain.scene_class), plain.seed);
    const scale::Reading reading = scale::find_rulings(test_support::grey_picture(scene).view());
    REQUIRE_FALSE(reading.failure);
    const scale::Ruling& ruling = reading.rulings.front();
    CHECK(std::abs(ruling.pitch_px / plain.pitch_px - 1.0) <
          std::max(1e-4, 3.0 * ruling.pitch_uncertainty_px / ruling.pitch_px));
  }
}

TEST_CASE("rows of spots and yarns are not taken for the lines of a net") {
  struct Pattern {
    micrograph::NoScale kind;
    std::uint64_t seed;
  };
  using micrograph::NoScale;
  for (const Pattern& pattern :
       {Pattern{NoScale::discs, 1}, Pattern{NoScale::discs, 19}, Pattern{NoScale::discs, 29},
        Pattern{NoScale::discs, 35},                               // rows in one direction too short to be judged
        Pattern{NoScale::discs, 48}, Pattern{NoScale::discs, 46},  // bright lines between discs
        Pattern{NoScale::discs, 644},                              // small and noisy
        Pattern{NoScale::discs, 635},                              // each spot of an oblique row a line of its own
        Pattern{NoScale::discs, 2108},                             // rows known by the ground between their spots
        Pattern{NoScale::discs, 703}, Pattern{NoScale::discs, 1609}, Pattern{NoScale::cloth, 710},
        Pattern{NoScale::cloth, 29}}) {  // noise hides all but where the yarns give way
    CAPTURE(pattern.seed);
    const auto scene = micrograph::random_no_scale(pattern.kind, pattern.seed);
    CHECK(scale::find_rulings(test_support::grey_picture(scene).view()).failure);
  }
}

// In the order of the seeds: eight of which half only just stick out of it, stubs on one no broader than a base line
// but far darker, four beside one that the picture's border cuts off, and many that hardly stick out.
TEST_CASE("the longest lines beside a band of blurred ones are not taken for the division") {
  for (const std::uint64_t seed : {21, 462, 3104, 3307}) {
    CAPTURE(seed);
    const auto scene = micrograph::random_scene(*micrograph::scene_class_named("dense_and_blurred"), seed);
    CHECK(scale::find_rulings(test_support::grey_picture(scene).view()).failure);
  }
}

TEST_CASE("coarser lines do not stand in for a division that blur hides") {
  for (const std::uint64_t seed : {1007, 1011, 4510}) {  // the last shows its block in the whole picture alone
    CAPTURE(seed);
    const auto scene = micrograph::random_scene(*micrograph::scene_class_named("too_blurred"), seed);
    const scale::Reading reading = scale::find_rulings(test_support::grey_picture(scene).view());
    REQUIRE(reading.failure);
    CHECK(reading.failure->code == "too-blurred");
  }
}

micrograph::Scene scene_of(const micrograph::LineScale& lines, int width, int height) {
  micrograph::Scene scene;
  scene.width = width;
  scene.height = height;
  scene.scales.push_back(lines);
  scene.sensor.read_noise = 1.5;
  return scene;
}

TEST_CASE("a part does not stand in for a field that is too distorted") {
  for (const double tilt : {0.06, 0.1, -0.15}) {
    CAPTURE(tilt);
    micrograph::LineScale lines;
    lines.pitch_px = 30.0;
    lines.origin_x = 60.0;
    lines.origin_y = 300.0;
    lines.count = 37;
    micrograph::Scene scene = scene_of(lines, 1200, 800);
    scene.geometry.tilt_x = tilt;
    const scale::Reading reading = scale::find_rulings(test_support::grey_picture(scene).view());
    REQUIRE(reading.failure);
    CHECK(reading.failure->code == "irregular");
  }
}

TEST_CASE("lines seen in a part of a distorted field are followed over all of it") {
  const auto scene = micrograph::random_scene(*micrograph::scene_class_named("distortion"), 4);
  const scale::Reading reading = scale::find_rulings(test_support::grey_picture(scene).view());
  REQUIRE(!reading.rulings.empty());
  CHECK(reading.rulings.front().graduations.size() > 45);
}

TEST_CASE("lines found in a part are no division where the whole shows finer ones beside them") {
  const auto read = [](std::uint64_t seed) {
    const auto scene = micrograph::random_scene(*micrograph::scene_class_named("dense_and_blurred"), seed);
    return scale::find_rulings(test_support::grey_picture(scene).view());
  };
  const scale::Reading counted = read(405), hidden = read(446);
  REQUIRE_FALSE(counted.failure);
  CHECK(counted.rulings.front().pitch_px == doctest::Approx(4.749571).epsilon(1e-4));
  CHECK(hidden.failure);
}

// Dense graduations, the longer ones twice and three times as long.
scale::Reading read_dense(double pitch_px, micrograph::Levels levels, double blur_px) {
  micrograph::LineScale lines;
  lines.angle_deg = 0.7;
  lines.pitch_px = pitch_px;
  lines.origin_x = 100.0;
  lines.origin_y = 150.0;
  lines.count = 101;
  lines.line_width_px = 0.5 * pitch_px;
  lines.levels = levels;
  lines.two_sided = true;
  lines.short_px = 32.0;
  lines.medium_px = 62.0;
  lines.long_px = 92.0;
  micrograph::Scene scene = scene_of(lines, 900, 300);
  scene.optics.gaussian_px = blur_px;
  return scale::find_rulings(test_support::grey_picture(scene).view());
}

TEST_CASE("lines too blurred to be measured are counted while they still show, and never guessed") {
  constexpr double kTolerance = 5e-4;  // of the pitch; every tenth line alone, of ten, gives 2e-4
  int counted = 0;
  for (const auto levels : {micrograph::Levels::fifth_and_tenth, micrograph::Levels::second_and_tenth})
    for (const double pitch : {2.9, 4.3, 6.1})
      for (const double blur : {0.25, 0.38, 0.45, 0.7, 1.0}) {
        CAPTURE(pitch);
        CAPTURE(blur);
        const scale::Reading reading = read_dense(pitch, levels, blur * pitch);
        if (reading.failure) {
          // Where every second line sticks out of the others, lines that are a wave have two profiles.
          CHECK((levels == micrograph::Levels::second_and_tenth || blur > 0.6));
          continue;
        }
        CHECK(blur < 0.6);
        const scale::Ruling& ruling = reading.rulings.front();
        CHECK(std::abs(ruling.pitch_px - pitch) < kTolerance * pitch);
        counted += ruling.counted_by > 1 ? 1 : 0;
      }
  CHECK(counted >= 6);
}

TEST_CASE("two lines in place of one are counted where a block of them still shows both") {
  for (const double pitch : {6.1, 7.3})
    for (const double blur : {0.4, 0.45}) {
      CAPTURE(pitch);
      CAPTURE(blur);
      const scale::Reading reading = read_dense(pitch, micrograph::Levels::second_and_tenth, blur * pitch);
      REQUIRE_FALSE(reading.failure);
      CHECK(reading.rulings.front().counted_by == 2);
      CHECK(reading.rulings.front().pitch_px == doctest::Approx(pitch).epsilon(1e-4));
    }
}

TEST_CASE("a block of finer lines once seen speaks against every later look at the lines between them") {
  const scale::Reading reading = read_dense(7.3, micrograph::Levels::second_and_tenth, 0.6 * 7.3);
  REQUIRE(reading.failure);
  CHECK(reading.failure->code == "too-blurred");
}

// Longer lines that stick out of short ones blurred into one another look like a scale with a thick base line.
TEST_CASE("what sticks out of a blurred block is not taken for the division") {
  struct Dense {
    double pitch, blur;
  };
  for (const Dense& dense : {Dense{7.3, 0.7}, Dense{9.1, 0.6}, Dense{11.0, 0.5}, Dense{11.0, 0.6}}) {
    CAPTURE(dense.pitch);
    CAPTURE(dense.blur);
    CHECK(read_dense(dense.pitch, micrograph::Levels::fifth_and_tenth, dense.blur * dense.pitch).failure);
  }
  CHECK(read_dense(6.1, micrograph::Levels::second_and_tenth, 0.6 * 6.1).failure);
}

TEST_CASE("dense graduations of any build, blurred, are read rightly or not at all") {
  std::mt19937_64 random(4);
  const auto uniform = [&random](double low, double high) {
    return low + (high - low) * (static_cast<double>(random() >> 11U) * 0x1p-53);
  };
  for (int trial = 0; trial < 40; ++trial) {
    CAPTURE(trial);
    micrograph::LineScale lines;
    lines.angle_deg = uniform(-8.0, 8.0) + (uniform(0.0, 1.0) < 0.3 ? 90.0 : 0.0);
    lines.pitch_px = uniform(5.0, 18.0);
    lines.count = 81;
    lines.line_width_px = uniform(0.2, 0.6) * lines.pitch_px;
    lines.levels = uniform(0.0, 1.0) < 0.5 ? micrograph::Levels::fifth_and_tenth : micrograph::Levels::second_and_tenth;
    lines.two_sided = uniform(0.0, 1.0) < 0.5;
    lines.short_px = uniform(20.0, 70.0);
    lines.medium_px = lines.short_px * uniform(1.3, 2.0);
    lines.long_px = lines.medium_px * uniform(1.2, 1.6);
    micrograph::Scene scene = scene_of(lines, 800, 500);
    const double before = uniform(0.1, 0.6) * 40.0 * lines.pitch_px, angle = lines.angle_deg * scale::kPi / 180.0;
    scene.scales[0].origin_x = 400.0 - before * std::cos(angle);
    scene.scales[0].origin_y = 250.0 - before * std::sin(angle);
    scene.optics.gaussian_px = uniform(0.35, 0.8) * lines.pitch_px;
    const scale::Reading reading = scale::find_rulings(test_support::grey_picture(scene).view());
    if (!reading.failure) CHECK(std::abs(reading.rulings.front().pitch_px - lines.pitch_px) < 0.01 * lines.pitch_px);
  }
}

}  // namespace
