// One function for each class of scenes. Those in makers_ruling.cpp vary what is ruled, those in makers_picture.cpp
// how it is seen.
#pragma once

#include "layout.h"

namespace micrograph {

double any_angle(Random& random);
double usual_angle(Random& random);  ///< mostly nearly level or upright, as a careful person would turn the slide
Scene usual_scene(Random& random);
Scene turned_scene(Random& random);

/// At times a little unevenness and dust, as most real pictures have.
void weather(Scene& scene, Random& random);

Scene make_tidy(Random& random);
Scene make_tidy_small_pitch(Random& random);
Scene make_any_angle(Random& random);
Scene make_partial_view(Random& random);
Scene make_two_sided(Random& random);
Scene make_one_sided_numerals(Random& random);
Scene make_fine_first_part(Random& random);
Scene make_crossed(Random& random);
Scene make_square_grid(Random& random);
Scene make_paired_lines(Random& random);
Scene make_missing_and_broken(Random& random);
Scene make_graduation_errors(Random& random);
Scene make_small_scale(Random& random);
Scene make_short_ticks(Random& random);
Scene make_large_pitch(Random& random);
Scene make_few_lines(Random& random);
Scene make_uneven_lines(Random& random);

Scene make_everything(Random& random);
Scene make_barely_resolved(Random& random);
Scene make_dense_and_blurred(Random& random);

/// What the classes named alike do to a scene.
using Change = void (*)(Scene& scene, Random& random);
void bright_on_dark(Scene& scene, Random& random);
void defocus_gaussian(Scene& scene, Random& random);
void defocus_disc(Scene& scene, Random& random);
void relief(Scene& scene, Random& random);
void shade(Scene& scene, Random& random);
void round_field(Scene& scene, Random& random);
void ring(Scene& scene, Random& random);
void noisy(Scene& scene, Random& random);
void poisson(Scene& scene, Random& random);
void saturate(Scene& scene, Random& random);
void gamma_curve(Scene& scene, Random& random);
void deep_bits(Scene& scene, Random& random);
void jpeg_high(Scene& scene, Random& random);
void jpeg_mid(Scene& scene, Random& random);
void jpeg_low(Scene& scene, Random& random);
void mosaic(Scene& scene, Random& random);
void sharpened(Scene& scene, Random& random);
void resampled(Scene& scene, Random& random);
void motion(Scene& scene, Random& random);
void colour(Scene& scene, Random& random);
void dirt_and_scratches(Scene& scene, Random& random);
void text_and_bars(Scene& scene, Random& random);
void distort(Scene& scene, Random& random);
void tilt_in_depth(Scene& scene, Random& random);
void unequal_xy(Scene& scene, Random& random);
void focus_gradient(Scene& scene, Random& random);
void too_blurred(Scene& scene, Random& random);

}  // namespace micrograph
