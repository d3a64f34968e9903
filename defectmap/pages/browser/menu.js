// On a narrow screen the menu covers the page: it closes once a page is chosen.

const NARROW_PX = 768;

export default function () {
  if (window.defectmapMenu) return;
  window.defectmapMenu = true;
  document.addEventListener("click", (event) => {
    const link = event.target.closest && event.target.closest('[data-testid="stSidebarNavLink"]');
    if (!link || window.innerWidth >= NARROW_PX) return;
    setTimeout(() => {
      const close = document.querySelector('[data-testid="stSidebarCollapseButton"] button');
      if (close) close.click();
    }, 60);
  });
}
