// SPDX-License-Identifier: GPL-3.0-or-later
// Look ahead: what may become of a plot, what other densities might do, and how good earlier forecasts were.
import { JobForm } from "../forms";
import { jobOf, plotOf, useMap } from "../state";
import { w } from "../words";
import { Do, Empty, PlotChoice, Sheet } from "./common";

export function Ahead() {
  const { map } = useMap();
  const plot = plotOf(map);
  return (
    <Sheet page="ahead" choice={<PlotChoice map={map} />}>
      {map && !plot && <Empty text={w.empty.noPlot} to="/plots" label={w.empty.goPlots} />}
      {plot && (
        <>
          <Do key={`grow ${plot.name}`} title={w.ahead.grow} open>
            <p class="help">{w.ahead.growAbout}</p>
            <JobForm job="ahead" fixed={{ plot: plot.name }} show={["years", "keep"]} submit={w.ahead.look} level={3} />
          </Do>
          {jobOf("spacing") && (
            <Do key={`spacing ${plot.name}`} title={w.ahead.spacing}>
              <p class="help">{w.ahead.spacingAbout}</p>
              <JobForm job="spacing" fixed={{ plot: plot.name }} show={["years"]} submit={w.ahead.look} level={3} />
            </Do>
          )}
          {jobOf("skill") && (
            <Do key={`skill ${plot.name}`} title={w.ahead.skill}>
              <p class="help">{w.ahead.skillAbout}</p>
              <JobForm job="skill" fixed={{ plot: plot.name }} submit={w.ahead.hold} level={3} />
            </Do>
          )}
        </>
      )}
    </Sheet>
  );
}
