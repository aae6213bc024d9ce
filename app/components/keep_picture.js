// Keeps a drawing of the page as a file, as it looks at the moment.
const DRAWINGS = 'svg.main-svg, .frame svg', LOOKS = [
  'fill', 'fill-opacity', 'fill-rule', 'stroke', 'stroke-width', 'stroke-opacity', 'stroke-dasharray', 'stroke-linecap',
  'stroke-linejoin', 'vector-effect', 'paint-order', 'opacity', 'color', 'display', 'visibility', 'text-anchor',
  'dominant-baseline', 'font-family', 'font-size', 'font-weight', 'font-style', 'letter-spacing', 'white-space']
const SVG = 'http://www.w3.org/2000/svg', SHARPER = 2

export default function ({ data, parentElement }) {
  for (const button of parentElement.querySelectorAll('button')) {
    button.setAttribute('aria-label', `Keep this picture as ${button.textContent}`)
    button.onclick = () => keep(data, button.dataset.format)
  }
}

async function keep({ drawnIn, name }, format) {
  const drawn = within(document.querySelector('.' + CSS.escape(drawnIn)))
  if (!drawn.length) return
  const sheet = together(drawn), text = new XMLSerializer().serializeToString(sheet)
  const svg = new Blob([text], { type: 'image/svg+xml' })
  save(format === 'svg' ? svg : await painted(svg, sheet), `${name}.${format}`)
}

// Returns the drawings that show in an element, those of components with a root of their own too.
function within(element) {
  const roots = [element, ...[...element?.querySelectorAll('*') ?? []].map(e => e.shadowRoot)].filter(Boolean)
  return roots.flatMap(root => [...root.querySelectorAll(DRAWINGS)]).filter(svg => svg.getBoundingClientRect().width)
}

// Returns drawings that lie one on another as one, on the ground of the page, with the looks of each part in it.
function together(drawn) {
  const { left, top, width, height } = drawn[0].getBoundingClientRect(), sheet = document.createElementNS(SVG, 'svg')
  for (const [name, value] of Object.entries({ width, height, viewBox: `0 0 ${width} ${height}` })) sheet.setAttribute(name, value)
  const ground = sheet.appendChild(document.createElementNS(SVG, 'rect'))
  for (const [name, value] of Object.entries({ width, height })) ground.setAttribute(name, value)
  ground.setAttribute('fill', getComputedStyle(document.querySelector('.stApp')).backgroundColor)
  for (const svg of drawn) {
    const copy = svg.cloneNode(true), box = svg.getBoundingClientRect()
    const parts = copy.querySelectorAll('*')
    svg.querySelectorAll('*').forEach((part, n) => dress(part, parts[n]))
    dress(svg, copy)
    for (const [name, value] of Object.entries({ x: box.left - left, y: box.top - top, width: box.width, height: box.height })) {
      copy.setAttribute(name, value)
    }
    sheet.appendChild(copy)
  }
  return sheet
}

function dress(part, copy) {
  const looks = getComputedStyle(part)
  copy.removeAttribute('class')
  for (const look of LOOKS) copy.style.setProperty(look, looks.getPropertyValue(look).replace('sans-serif', 'Arial, sans-serif'))
}

async function painted(svg, sheet) {
  const picture = new Image(), address = URL.createObjectURL(svg)
  await new Promise((loaded, failed) => Object.assign(picture, { onload: loaded, onerror: failed, src: address }))
  const canvas = document.createElement('canvas')
  canvas.width = SHARPER * sheet.getAttribute('width')
  canvas.height = SHARPER * sheet.getAttribute('height')
  canvas.getContext('2d').drawImage(picture, 0, 0, canvas.width, canvas.height)
  URL.revokeObjectURL(address)
  return new Promise(made => canvas.toBlob(made, 'image/png'))
}

function save(blob, name) {
  const link = document.createElement('a')
  link.href = URL.createObjectURL(blob)
  link.download = name
  link.click()
  setTimeout(() => URL.revokeObjectURL(link.href), 60000)
}
