// SPDX-License-Identifier: GPL-3.0-or-later
// Water and aftercare: what is to be done, which plots want water, whether compared plots were cared for alike, what died.
import { type Choice, JobForm, choicesOf } from "../forms";
import { NoteBody, Said } from "../note";
import { care_kindWords, done_stateWords } from "../nouns";
import { jobOf, plotOf, useMap, useNote } from "../state";
import { w } from "../words";
import { Do, Empty, PlotChoice, Sheet } from "./common";

export function Care() {
  const { map } = useMap();
  const plot = plotOf(map), site = plot?.name.split("/")[0];
  const tasks = useNote(site ? "tasks" : null, { site: site ?? "", open: true });
  const mine = ((tasks.note?.data?.tasks ?? []) as { plot: string; task: string; on: string; words: string }[]).filter((one) => one.plot === plot?.name);
  const keys: Choice[] = mine.map((one) => ({ value: one.task, label: `${one.on} ${one.words}` }));
  const alike = useNote(site ? "care" : null, { site: site ?? "" });
  return (
    <Sheet page="care" note={tasks.note} busy={tasks.busy} failure={tasks.failure} choice={<PlotChoice map={map} />}>
      {map && !plot && <Empty text={w.empty.noPlot} to="/plots" label={w.empty.goPlots} />}
      {plot && site && (
        <>
          <Do key={`tended ${plot.name}`} title={w.care.tended} open>
            <JobForm job="tended" fixed={{ plot: plot.name }} show={["task", "kind", "state", "on", "litres_m2", "hours", "who", "why"]} choices={{ task: keys, kind: choicesOf(care_kindWords), state: choicesOf(done_stateWords) }} labels={{ on: w.care.day }} submit={w.care.write} level={3} />
          </Do>
          <Do key={`water ${site}`} title={w.care.water} open>
            <JobForm job="water" fixed={{ sites: site }} show={["on", "litres", "by", "bowser_l"]} labels={{ on: w.care.day }} submit={w.care.judge} level={3} />
          </Do>
          <Do key={`balance ${site}`} title={w.care.season}>
            <p class="help">{w.care.seasonAbout}</p>
            <JobForm job="balance" fixed={{ site }} show={["from", "to"]} labels={{ to: w.care.last, from: w.care.first }} submit={w.care.follow} level={3} />
          </Do>
          <Do key={`tasks ${site}`} title={w.care.tasks}>
            {tasks.note && <NoteBody note={tasks.note} level={3} quiet />}
            <JobForm job="tasks" fixed={{ site }} show={["ics", "open", "from", "to"]} labels={{ to: w.care.last, from: w.care.first }} submit={w.care.list} level={3} />
          </Do>
          <Do key={`care ${site}`} title={w.care.alike}>
            {alike.note && <><Said text={alike.note.answer} /><NoteBody note={alike.note} level={3} /></>}
          </Do>
          <Do key={`losses ${plot.name}`} title={w.care.losses}>
            <JobForm job="losses" fixed={{ plot: plot.name }} show={["ground"]} submit={w.care.hold} level={3} />
            {jobOf("replant") && <JobForm job="replant" fixed={{ plot: plot.name }} show={["labels", "on", "who"]} labels={{ on: w.care.day }} submit={w.care.replant} level={3} />}
          </Do>
        </>
      )}
      {map && (
        <Do title={w.care.weather}>
          <p class="help">{w.care.weatherAbout}</p>
          <JobForm job="rain" show={["day", "mm", "days"]} submit={w.care.rain} level={3} />
          <JobForm job="weather" show={["file", "form", "station"]} submit={w.care.file} level={3} />
        </Do>
      )}
    </Sheet>
  );
}
