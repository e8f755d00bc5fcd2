// Rooms to look at: the sample room, and one whose names and texts are hostile.
import { execFileSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

const gradus = process.env.GRADUS_PROGRAM;
const samples = process.env.GRADUS_SAMPLES;
const day = "2026-02-28T09:30:00Z";
const nextWeek = "2026-03-07T16:00:00Z";

// Runs gradus; exit 1 (refused, flagged) is a result here.
function run(folder, ...options) {
  try {
    execFileSync(gradus, options, { cwd: folder, stdio: "pipe" });
  } catch (error) {
    if (error.status !== 1) throw new Error(`gradus ${options.join(" ")}: ${error.stderr}`);
  }
}

function pagesIn(folder) {
  return readdirSync(folder)
    .filter((name) => name.endsWith(".html"))
    .map((name) => join(folder, name));
}

const folders = [];

export function clearAway() {
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
}

function furnish(lab) {
  const folder = mkdtempSync(join(tmpdir(), "gradus-browser-"));
  folders.push(folder);
  for (const part of ["calibration", "check", "fibres"])
    cpSync(join(samples, part), join(folder, part), { recursive: true });
  writeFileSync(join(folder, "lab.toml"), lab);
  return folder;
}

// The sample room with an eyepiece reticle beside its cameras.
const sampleLab = readFileSync(join(samples, "lab.toml"), "utf8") + `
[[setup]]
name = "eyepiece-10x"
scale = "SM-A"
kind = "reticle"
microscope = "stand 3"
eyepiece = "10x, 100 divisions"
objective = { magnification = 10, aperture = 0.25 }
reticle_pitch = "100um"
reticle_divisions = 100
tolerance = "1 %"
recalibrate_every = "365 d"
budget = { field = "0.2 %", refocusing = "0.1 %" }
`;

const readings = ["0=0", "31=32", "64=67", "97=100", "/", "0=5", "64=71", "92=99.9"];

function readByEye(folder, operator, setup = "eyepiece-10x") {
  run(folder, "reticle", "--lab", "lab.toml", "--setup", setup, "--record", "--operator", operator, "--at", day,
      ...readings);
}

export function sampleRoom() {
  const folder = furnish(sampleLab);
  run(folder, "calibrate", "calibration", "--recursive", "--lab", "lab.toml", "--record", "--operator", "A. Keeper",
      "--at", day);
  readByEye(folder, "A. Keeper");
  run(folder, "measure", "fibres", "--recursive", "--lab", "lab.toml", "--csv", "widths.csv", "--at", day,
      "--report", "pages");
  run(folder, "check", "check", "--recursive", "--lab", "lab.toml", "--record", "--operator", "A. Keeper",
      "--at", nextWeek, "--report", "pages");
  run(folder, "report", "--lab", "lab.toml", "--at", nextWeek, "--report", "pages");
  return [...pagesIn(join(folder, "pages")), ...readingSheets(folder)];
}

// Sheets of runs of reticle: by eye without a lab file, and from a picture with both scales in it.
function readingSheets(folder) {
  run(folder, "reticle", "--division", "10um", "--report", "by-eye", "--at", day, ...readings);
  cpSync(join(samples, "eyepiece", "10x.jpg"), join(folder, "seen.jpg"));
  run(folder, "calibrate", "seen.jpg", "--division", "10um", "--reticle", "100", "--reticle-is", "lower", "--report",
      "by-picture", "--at", day);
  return [join(folder, "by-eye", "calibration-eyepiece-reticle.html"), join(folder, "by-picture", "calibration-seen-jpg.html")];
}

// The card of a stand with six objectives; the same readings at each, so that no nominal division can be stated.
export function fullCard() {
  const eyepiece = sampleLab.slice(sampleLab.indexOf('[[setup]]\nname = "eyepiece-10x"'));
  const others = [4, 20, 40, 60, 100];
  const folder = furnish(sampleLab + others.map((times) =>
    eyepiece.replace("eyepiece-10x", `eyepiece-${times}x`).replace("magnification = 10", `magnification = ${times}`)
      .replace('reticle_pitch = "100um"\n', "").replace('tolerance = "1 %"\n', "")).join(""));
  for (const times of [10, ...others]) readByEye(folder, "A. Keeper", `eyepiece-${times}x`);
  run(folder, "reticle", "--table", "--lab", "lab.toml", "--page", "card.html", "--at", nextWeek);
  return join(folder, "card.html");
}

export function hostileRoom() {
  const hostile = "<script>document.title = 'taken'</script>\\\"'&\\u202E" + "m".repeat(300);
  const lab = sampleLab
    .replace('name = "wool room"', `name = "${hostile}"`)
    .replace(/microscope = "stand 1"/g, `microscope = "${hostile}"`)
    .replace('eyepiece = "10x, 100 divisions"', `eyepiece = "${hostile}"`)
    .replace('serial = "0001"', `serial = "${"0".repeat(300)}"`);
  const folder = furnish(lab);
  const shots = join(folder, "calibration", "10x");
  mkdirSync(shots, { recursive: true });
  cpSync(join(shots, "a.jpg"), join(shots, "<img src=x onerror=alert(1)>'\"" + "n".repeat(150) + ".jpg"));
  run(folder, "calibrate", "calibration", "--recursive", "--lab", "lab.toml", "--record", "--operator", hostile,
      "--at", day, "--report", "pages", "--embed", "--decimal-comma");
  run(folder, "check", "check", "--recursive", "--lab", "lab.toml", "--record", "--operator", hostile,
      "--at", nextWeek, "--report", "pages", "--decimal-comma");
  readByEye(folder, hostile);
  run(folder, "report", "--lab", "lab.toml", "--at", nextWeek, "--report", "pages", "--embed", "--decimal-comma");
  return pagesIn(join(folder, "pages"));
}
