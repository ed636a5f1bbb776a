// SPDX-License-Identifier: GPL-3.0-or-later
// The workbench starts here.
import { render } from "preact";
function App() {
  return <main><h1>spinney</h1></main>;
}
render(<App />, document.getElementById("app")!);
