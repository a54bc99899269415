// @ts-check
/** Shows how far the preparing is, and loads the page anew when it has ended. */

class WorkShown extends HTMLElement {
  connectedCallback() {
    const bar = this.querySelector("progress");
    const say = this.querySelector("[role=status]");
    if (!bar || !say) return;
    const source = new EventSource("/prepare/events");
    source.addEventListener("message", (event) => {
      /** @type {{state: string, part: number, label: string}} */
      const told = JSON.parse(event.data);
      bar.value = told.part;
      say.textContent = told.label;
      if (told.state === "done" || told.state === "failed") {
        source.close();
        location.reload();
      }
    });
    addEventListener("pagehide", () => source.close());
  }
}
customElements.define("work-shown", WorkShown);
