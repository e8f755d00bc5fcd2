// Amplitude spectrum of a projection profile, and the periods that stand out of it.
//
// Model. The profile's derivative (which whitens edges) is cut out by a Hann window, padded to at least twice its
// length and transformed (cv::dft). amplitude[j] belongs to j / (2 (size - 1)) cycles per bin, scaled so that a
// sinusoid of amplitude a in the windowed series shows a at its peak.
#pragma once

#include <vector>

namespace scale {

struct Spectrum {
  std::vector<double> frequency;  // cycles per bin
  std::vector<double> amplitude;
};

Spectrum amplitude_spectrum(const std::vector<float>& series);

// Periods (bins) of the strongest local maxima of amplitude over its running median, at most `most`.
std::vector<double> spectral_periods(const Spectrum& spectrum, std::size_t most);

}  // namespace scale
