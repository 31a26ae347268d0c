// Which page is shown, and its query, kept in the address so that a view can
// be reloaded and shared. The program serves the app for every such path.

export class Route {
  path = $state(location.pathname);
  search = $state(location.search);

  constructor() {
    addEventListener('popstate', () => this.#read());
  }

  #read(): void {
    this.path = location.pathname;
    this.search = location.search;
  }

  /** go shows another page. */
  go(href: string): void {
    history.pushState(null, '', href);
    this.#read();
    scrollTo(0, 0);
  }

  /** become changes the address of the page that is shown, without a step back. */
  become(href: string): void {
    history.replaceState(null, '', href);
    this.#read();
  }

  /** follow makes an ordinary link change the page without loading it anew. */
  follow = (event: MouseEvent): void => {
    const link = event.currentTarget as HTMLAnchorElement;
    if (event.button !== 0 || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
    event.preventDefault();
    this.go(link.getAttribute('href') ?? '/');
  };
}

export const route = new Route();
