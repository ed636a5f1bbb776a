// SPDX-License-Identifier: GPL-3.0-or-later
// The workbench starts here: the list of steps beside the page.
import { render } from "preact";
import { useEffect, useState } from "preact/hooks";
import { authorGet, authorSet, Refusal } from "./api";
import { FailureView } from "./note";
import { current, pages, PageView } from "./pages";
import { begin, go, useShared } from "./state";
import { w } from "./words";

function Author() {
  const [name, setName] = useState(authorGet());
  return (
    <label class="author">
      {w.author}
      <input value={name} placeholder={w.noAuthor} title={w.authorHelp} onInput={(e) => {
        setName(e.currentTarget.value);
        authorSet(e.currentTarget.value);
      }} />
    </label>
  );
}

function Steps({ here }: { here: string }) {
  const { offer } = useShared();
  return (
    <nav class="steps" aria-label={w.steps}>
      <p class="mark"><strong>{w.name}</strong><span class="soft">{offer?.file}</span></p>
      <ol>
        {pages.map((page) => (
          <li key={page.key}>
            <a href={`/${page.key}`} aria-current={page.key === here ? "page" : undefined} onClick={(e) => { e.preventDefault(); go(`/${page.key}`); }}>
              {w.pages[page.key].name}
            </a>
          </li>
        ))}
      </ol>
      <Author />
    </nav>
  );
}

function App() {
  const { offer } = useShared();
  const [failure, setFailure] = useState<Refusal | null>(null);
  useEffect(() => {
    begin().catch((error: Refusal) => setFailure(error));
  }, []);
  const page = current();
  return (
    <>
      <a class="skip" href="#page">{w.skip}</a>
      <div class="bench">
        <Steps here={page.key} />
        {failure ? <main id="page"><h1>{w.name}</h1><FailureView failure={failure} /></main> : offer ? <PageView page={page} key={page.key} /> : <main id="page"><h1>{w.name}</h1></main>}
      </div>
    </>
  );
}
render(<App />, document.getElementById("app")!);
