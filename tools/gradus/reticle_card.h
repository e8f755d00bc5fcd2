// The card for the bench: divisions 1 to 100 in micrometres for every objective with a reticle, by the register.
#pragma once

#include <scale/card_page.h>

#include <string>
#include <vector>

#include "reticle_held.h"

namespace gradus {

struct CardOptions {
  std::string microscope;  // empty: all
  std::string page;        // HTML file; empty: none
};

// Calibrated set-ups as columns, the others by name; states are those of the day.
scale::ReticleCard card_of(const scale::Lab& lab, const std::vector<HeldReticle>& held, const std::string& day);

std::string card_text(const scale::ReticleCard& card);

// Prints the card unless `quiet`, and writes the page when asked. `made_at` empty: now.
int run_card(const LabRoom& room, const CardOptions& options, const std::string& made_at, bool quiet);

}  // namespace gradus
