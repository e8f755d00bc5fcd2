// The card for the bench: divisions 1 to 100 in micrometres for every objective with a reticle, by the register.
#pragma once

#include <string>
#include <vector>

#include "reticle_held.h"

namespace gradus {

struct CardOptions {
  std::string microscope;  // empty: all
  std::string page;        // HTML file; empty: none
};

struct Card {
  std::string room, day, program;
  std::vector<HeldReticle> columns;  // calibrated ones
  std::vector<std::string> missing;  // set-ups that are not
};

std::string card_text(const Card& card);

// One A5 page, HTML with its style inside, to be printed.
std::string card_page(const Card& card);

// Decimals of a column: what 100 divisions deserve by their U.
int card_decimals(const scale::CalibrationFactor& um_per_division);

bool is_overdue(const HeldReticle& held, const std::string& day);
// "2027-02-28", "2027-02-28 OVERDUE" or "-".
std::string due_words(const HeldReticle& held, const std::string& day);

// Prints the card unless `quiet`, and writes the page when asked. `made_at` empty: now.
int run_card(const LabRoom& room, const CardOptions& options, const std::string& made_at, bool quiet);

}  // namespace gradus
