"""Texts that nobody means keep no phone busy, for the time follows their length; and turn no other words around."""

from __future__ import annotations

from playwright.sync_api import Page

SIGNS = 1_000_000
SOON_MS = 5000  # each takes some tenths of a second at most; by the square of the length it would be an hour


def test_readers_of_the_phone_take_a_text_of_a_million_signs_soon(blank: Page) -> None:
    took = blank.evaluate(
        """async (n) => {
          const [leave, letter, grid, dates] = await Promise.all(
            ['leave', 'leave_letter', 'gridref', 'dates'].map((name) => import(`/static/js/core/${name}.js`)));
          const texts = ['a' + ' '.repeat(n) + 'a', 'a' + ', '.repeat(n / 2) + 'a', 'a' + '.'.repeat(n) + 'a',
            '1'.repeat(n), 'a' + '\\u0301\\u0323'.repeat(n / 2), 'LAT' + ' '.repeat(n), 'A/'.repeat(n / 2)];
          const readers = {
            kind: leave.plainKind,
            letter: (text) => letter.leaveLetter(
              { landholder: { name: text, address: text }, leave: { conditions: [text], species: [text] } }),
            position: grid.readPosition,
            day: (text) => dates.readDate(text, 'day', 'on'),
            zone: (text) => dates.readZone(text, 'zone'),
          };
          const took = {};
          for (const [name, read] of Object.entries(readers)) {
            for (const [i, text] of texts.entries()) {
              const began = performance.now();
              try {
                read(text);
              } catch (fault) {
                if (!(fault.message?.length < 1000)) throw fault;
                if (fault instanceof TypeError || fault instanceof ReferenceError) throw fault;
              }
              took[`${name} ${i}`] = performance.now() - began;
            }
          }
          return took;
        }""",
        SIGNS,
    )
    assert len(took) == 35
    assert {what: ms for what, ms in took.items() if ms > SOON_MS} == {}


def test_a_name_turns_no_words_around_but_its_own(blank: Page) -> None:
    made = blank.evaluate(
        """async (names) => {
          const { html } = await import('/static/js/ui/html.js');
          return names.map((name) => String(html`<p title="${name}">Leave of ${name}: signed</p>`));
        }""",
        ["\u202eMorag\u202d", "\u2067a\u2066b\u2068c\u2069", "\u202aa\u202bb\u202c", "عبد", "a\u200db", "\u200fab"],
    )
    # UAX 9, 2.1 to 2.4: embeddings, overrides and isolates reach on to the end of the paragraph unless they are closed
    told = ["Morag", "abc", "ab", "عبد", "a\u200db", "\u200fab"]
    assert made == [f'<p title="{name}">Leave of {name}: signed</p>' for name in told]
