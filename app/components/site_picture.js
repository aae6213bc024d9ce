// Puts the drawing in place, tells which stretch was touched, and brings a part of it nearer.
const NEAREST = 6, LONGEST_PX = 90
const LENGTHS = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000]

export default function (component) {
  const { data, parentElement, setTriggerValue } = component
  const frame = parentElement.querySelector('.frame')
  if (frame.dataset.drawn !== data.drawn) {
    for (const [name, drawing] of Object.entries(data.views)) frame.querySelector('.' + name).innerHTML = drawing
    frame.querySelector('.axes').textContent = data.axes
    frame.dataset.drawn = data.drawn
    const shown = [...frame.querySelectorAll('svg')].map(drawing => look(frame, drawing))
    new ResizeObserver(() => shown.forEach(show => show())).observe(frame)
  }
  const tell = event => {
    const stretch = event.target.closest('[data-stretch]')
    if (stretch && !frame.dataset.moved) setTriggerValue('stretch', stretch.dataset.stretch)
  }
  frame.onclick = tell
  frame.onkeydown = event => {
    if (event.key !== 'Enter' && event.key !== ' ') return
    if (event.target.closest('[data-stretch]')) event.preventDefault()
    delete frame.dataset.moved  // a drag before is no part of this
    tell(event)
  }
}

// Shows a part of a drawing: the buttons bring it nearer and farther, a drag moves it once it is nearer.
function look(frame, drawing) {
  const [, edge, wide, tall] = drawing.getAttribute('viewBox').split(' ').map(Number)
  let near = 1, left = 0, top = edge, held = null
  const show = () => {
    left = Math.min(Math.max(left, 0), wide - wide / near)
    top = Math.min(Math.max(top, edge), edge + tall - tall / near)
    drawing.setAttribute('viewBox', `${left} ${top} ${wide / near} ${tall / near}`)
    const drawn = drawing.clientWidth / wide
    if (!drawn) return  // another size of the drawing is the one that shows
    drawing.style.setProperty('--near', near * Math.min(drawn, 1))  // words never get smaller than they are meant
    drawing.parentElement.classList.toggle('come', near > 1)  // a small drawing has its notes once it is nearer
    drawing.parentElement.style.touchAction = near > 1 ? 'none' : 'pan-y'
    measure(frame, drawing, near * drawn)
  }
  const come = factor => {
    const x = left + wide / near / 2, y = top + tall / near / 2
    near = Math.min(Math.max(near * factor, 1), NEAREST)
    left = x - wide / near / 2
    top = y - tall / near / 2
    show()
  }
  frame.querySelector('.nearer').addEventListener('click', () => come(1.5))
  frame.querySelector('.farther').addEventListener('click', () => come(1 / 1.5))
  drawing.addEventListener('pointerdown', event => {
    held = { x: event.clientX, y: event.clientY, left, top }
    delete frame.dataset.moved
  })
  drawing.addEventListener('pointermove', event => {
    if (!held || !event.buttons || near === 1) return
    const unit = wide / near / drawing.clientWidth
    const [x, y] = [event.clientX - held.x, event.clientY - held.y]
    if (Math.abs(x) + Math.abs(y) > 6) frame.dataset.moved = 'yes'
    left = held.left - x * unit
    top = held.top - y * unit
    show()
  })
  drawing.addEventListener('pointerup', () => { held = null })
  return show
}

// Draws the scale under the picture: the longest even length that has room.
function measure(frame, drawing, factor) {
  const unitPx = Number(drawing.dataset.unitPx) * factor
  const length = LENGTHS.findLast(n => n * unitPx <= LONGEST_PX) ?? LENGTHS[0]
  frame.querySelector('.bar').style.width = `${length * unitPx}px`
  frame.querySelector('.long').textContent = `${length} ${drawing.dataset.unit}`
}
